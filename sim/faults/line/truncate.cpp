#include "sim/faults/line/truncate.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr double kByChance = 0.0;
constexpr ActionKey kKeys[] = {share_key("of the answers that are cut short"),
                               {.key = "keep",
                                .kind = ActionKey::Kind::whole,
                                .fallback = kByChance,
                                .meaning = "how many of their first bytes are left; without it by chance",
                                .least = 1.0,
                                .most = 259.0}};

class Truncate final : public bench::Impairment {
 public:
  Truncate(double share, std::size_t keep) : share_(share), keep_(keep) {}
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& chance) override {
    for (auto& piece : pieces) {
      const std::size_t size = piece.bytes.size();
      if (piece.echo || size < 2 || !hits(share_, chance)) continue;
      const std::size_t left = keep_ > 0 ? keep_ : 1 + chance.below(size - 1);
      if (left >= size) continue;
      piece.bytes.resize(left);
      piece.due -= query.character * static_cast<Duration::rep>(size - left);
    }
  }

 private:
  double share_;
  std::size_t keep_;  ///< 0: by chance
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  const double keep = action.value("keep");
  install(bench, action, std::make_unique<Truncate>(share, static_cast<std::size_t>(keep)),
          portion(share, "answers") +
              (keep == kByChance ? std::string(" lose some of their last bytes")
                                 : " end after " + format_number(keep) + (keep == 1.0 ? " byte" : " bytes")) +
              ": masters wait for the rest until their time-out",
          at);
}

}  // namespace

const ActionKind kTruncate{"truncate", TargetKind::line, "cuts answers short", Duration{}, perform, kKeys,
                           lifted};

}  // namespace emberline::faults
