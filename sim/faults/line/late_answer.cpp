#include "sim/faults/line/late_answer.hpp"

#include <cstdint>
#include <iterator>
#include <map>

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {share_key("of the answers that are kept back")};

/// Keeps answers back until the next request of the same session has come; then they go out, ahead of that
/// request's own answer. What is still kept when this is lifted, or when the connection ends, is lost.
class LateAnswer final : public bench::Impairment {
 public:
  LateAnswer(double share, Duration pause) : share_(share), pause_(pause) {}
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& chance) override {
    std::vector<bench::Piece> leaving;
    if (const auto known = kept_.find(query.session); known != kept_.end()) {
      leaving = std::move(known->second);
      kept_.erase(known);
    }
    Duration taken{};  // of the line's time, by what goes ahead
    for (auto& piece : leaving) {
      taken += pause_ + query.character * static_cast<Duration::rep>(piece.bytes.size());
      piece.due = query.at + taken;
    }
    std::vector<bench::Piece> back;
    for (auto& piece : pieces) {
      const bool late = !piece.echo && hits(share_, chance);
      if (!piece.echo) piece.due += taken;
      (late ? back : leaving).push_back(std::move(piece));
    }
    pieces = std::move(leaving);
    if (back.empty()) return;
    kept_[query.session] = std::move(back);
    // Sessions that have ended never ask again; their numbers are the lowest.
    if (kept_.size() > kSessions) kept_.erase(kept_.begin());
  }

 private:
  static constexpr std::size_t kSessions = 1000;  // as many as a TCP line may have at a time
  double share_;
  Duration pause_;
  std::map<std::uint64_t, std::vector<bench::Piece>> kept_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  const std::size_t line = action.target.index;
  const bool rtu = bench::carries_rtu(bench.spec().lines[line].kind);
  install(bench, action, std::make_unique<LateAnswer>(share, pause_between_frames(bench, line)),
          portion(share, "answers") + " come only after the next request: " +
              (rtu ? "a master takes each for the answer to what it asked last"
                   : "a master that has kept its connection tells them by the transaction id"),
          at);
}

}  // namespace

const ActionKind kLateAnswer{
    "late_answer", TargetKind::line, "keeps answers back until the next request has been sent",
    Duration{},    perform,          kKeys,
    lifted};

}  // namespace emberline::faults
