#include "sim/faults/line/drop_answers.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {share_key("of the answers that are lost")};

class DropAnswers final : public bench::Impairment {
 public:
  explicit DropAnswers(double share) : share_(share) {}
  void answer(const bench::Query& /*query*/, std::vector<bench::Piece>& pieces, Random& chance) override {
    std::erase_if(pieces, [&](const bench::Piece& piece) { return !piece.echo && hits(share_, chance); });
  }

 private:
  double share_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  install(bench, action, std::make_unique<DropAnswers>(share),
          portion(share, "answers") + " are lost: units do as they are told, masters take it for a failure",
          at);
}

}  // namespace

const ActionKind kDropAnswers{
    "drop_answers", TargetKind::line, "loses answers on their way to the masters; the units have acted",
    Duration{},     perform,          kKeys,
    lifted};

}  // namespace emberline::faults
