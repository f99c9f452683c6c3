#include "sim/faults/line/repeat_answer.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {share_key("of the answers that come twice")};

class RepeatAnswer final : public bench::Impairment {
 public:
  RepeatAnswer(double share, Duration pause) : share_(share), pause_(pause) {}
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& chance) override {
    std::vector<bench::Piece> all;
    Duration later{};  // what is behind a copy comes so much later
    for (auto& piece : pieces) {
      piece.due += later;
      all.push_back(std::move(piece));
      if (all.back().echo || !hits(share_, chance)) continue;
      const Duration behind = pause_ + query.character * static_cast<Duration::rep>(all.back().bytes.size());
      later += behind;
      bench::Piece copy = all.back();
      copy.due += behind;
      all.push_back(std::move(copy));
    }
    pieces = std::move(all);
  }

 private:
  double share_;
  Duration pause_;  ///< between the two
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  const std::size_t line = action.target.index;
  const bool rtu = bench::carries_rtu(bench.spec().lines[line].kind);
  install(
      bench, action, std::make_unique<RepeatAnswer>(share, pause_between_frames(bench, line)),
      portion(share, "answers") + " come twice: " +
          (rtu ? "a master that does not clear its input takes the copy for the answer to its next request"
               : "a master finds a transaction id on the copy that it has done with"),
      at);
}

}  // namespace

const ActionKind kRepeatAnswer{
    "repeat_answer", TargetKind::line, "sends answers twice", Duration{}, perform, kKeys, lifted};

}  // namespace emberline::faults
