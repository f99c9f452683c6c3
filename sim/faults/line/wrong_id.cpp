#include "sim/faults/line/wrong_id.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr std::size_t kUnitIdInMbap = 6;

constexpr ActionKey kKeys[] = {{.key = "as",
                                .kind = ActionKey::Kind::whole,
                                .fallback = std::nullopt,
                                .meaning = "the unit id that answers come from",
                                .least = 1.0,
                                .most = 247.0},
                               share_key("of the answers that come from there")};

/// Only the unit id is wrong: the CRC fits it. What was damaged before stays as it is.
class WrongId final : public bench::Impairment {
 public:
  WrongId(std::uint8_t as, double share) : as_(as), share_(share) {}
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& chance) override {
    for (auto& piece : pieces) {
      if (piece.echo || !hits(share_, chance)) continue;
      if (!query.rtu) {
        if (piece.bytes.size() > kUnitIdInMbap) piece.bytes[kUnitIdInMbap] = as_;
      } else if (intact(piece.bytes)) {
        piece.bytes[0] = as_;
        seal(piece.bytes);
      }
    }
  }

 private:
  std::uint8_t as_;
  double share_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  const double as = action.value("as");
  install(bench, action, std::make_unique<WrongId>(static_cast<std::uint8_t>(as), share),
          portion(share, "answers") + " come from unit id " + format_number(as) +
              ": a master that looks at the id throws them away, one that does not takes them",
          at);
}

}  // namespace

const ActionKind kWrongId{"wrong_id", TargetKind::line, "lets answers come from another unit id",
                          Duration{}, perform,          kKeys,
                          lifted};

}  // namespace emberline::faults
