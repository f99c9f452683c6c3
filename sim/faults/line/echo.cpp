#include "sim/faults/line/echo.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

/// An adapter for a two-wire bus that does not close its receiver while it sends. Every whole request comes
/// back, answered or not; one that another impairment lost or broke on its way does not.
class Echo final : public bench::Impairment {
 public:
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& /*chance*/) override {
    bench::Piece own;
    own.due = query.at;
    own.bytes.assign(query.frame.begin(), query.frame.end());
    own.echo = true;
    pieces.insert(pieces.begin(), std::move(own));
  }
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  install(
      bench, action, std::make_unique<Echo>(),
      "masters hear their own requests before the answer: reads fail, and the write of one register looks "
      "as if it had been confirmed, even if nobody is there",
      at);
}

}  // namespace

const ActionKind kEcho{
    "echo", TargetKind::rtu_line, "lets masters hear their own requests", Duration{}, perform, {}, lifted};

}  // namespace emberline::faults
