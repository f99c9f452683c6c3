#include "sim/faults/line/drop_requests.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {share_key("of the requests that are lost")};

class DropRequests final : public bench::Impairment {
 public:
  explicit DropRequests(double share) : share_(share) {}
  std::optional<Duration> request(const bench::Query& /*query*/, Random& chance) override {
    return hits(share_, chance) ? std::nullopt : std::optional(Duration::zero());
  }

 private:
  double share_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  install(bench, action, std::make_unique<DropRequests>(share),
          portion(share, "requests") + " are lost: units hear nothing of them, masters get no answer", at);
}

}  // namespace

const ActionKind kDropRequests{"drop_requests", TargetKind::line, "loses requests on their way to the units",
                               Duration{},      perform,          kKeys,
                               lifted};

}  // namespace emberline::faults
