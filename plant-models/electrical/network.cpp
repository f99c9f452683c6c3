#include "plant-models/electrical/network.hpp"

#include <cassert>
#include <numbers>
#include <utility>

#include "plant-models/electrical/closed_forms.hpp"

namespace emberline::plant {

class Network::Impl {
 public:
  Impl(const SupplyParameters& supply, std::vector<LoadParameters> loads)
      : supply_(supply), loads_(std::move(loads)), closed_forms_(supply_, loads_) {
    assert(problems(supply_).empty());
    for (const auto& load : loads_) assert(problems(supply_, load).empty());
  }

  SupplyParameters supply_;
  std::vector<LoadParameters> loads_;
  ClosedForms closed_forms_;
};

Network::Network(const SupplyParameters& supply, std::vector<LoadParameters> loads)
    : impl_(std::make_unique<Impl>(supply, std::move(loads))) {}
Network::~Network() = default;
Network::Network(Network&&) noexcept = default;

void Network::next_cycle() {}

void Network::solve(const SupplyState& supply, const std::vector<Conduction>& states, NetworkResult& result) {
  impl_->closed_forms_.solve(supply.share[0], states, result);
}

bool Network::settled() const { return impl_ != nullptr; }

LoadResult Network::full_conduction(std::size_t index, const SupplyState& supply,
                                    const std::vector<Conduction>& states) const {
  return impl_->closed_forms_.full_conduction(index, supply.share[0], states);
}

double Network::leg_supply_V(std::size_t index) const {
  const auto connection = impl_->loads_[index].connection;
  const bool star = connection == Connection::star_4_wire || connection == Connection::star_3_wire;
  return star ? impl_->supply_.voltage_V / std::numbers::sqrt3 : impl_->supply_.voltage_V;
}

Waves Network::waves(std::size_t, const SupplyState&, const std::vector<Conduction>&) const { return {}; }

}  // namespace emberline::plant
