#include "sim/faults/line/delay.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "by",
                                .kind = ActionKey::Kind::duration,
                                .fallback = std::nullopt,
                                .meaning = "how long every frame is held up"},
                               {.key = "jitter",
                                .kind = ActionKey::Kind::duration,
                                .fallback = 0.0,
                                .meaning = "up to so much longer, evenly spread"},
                               way_key(bench::Way::to_masters, "which way frames are held up")};

/// Frames keep their order: one that draws a shorter time waits for the one ahead of it.
class Delay final : public bench::Impairment {
 public:
  Delay(Duration by, Duration jitter, bench::Way way) : by_(by), jitter_(jitter), way_(way) {}
  std::optional<Duration> request(const bench::Query& /*query*/, Random& chance) override {
    return way_ == bench::Way::to_masters ? Duration::zero() : draw(chance);
  }
  void answer(const bench::Query& /*query*/, std::vector<bench::Piece>& pieces, Random& chance) override {
    if (way_ == bench::Way::to_units) return;
    for (auto& piece : pieces) piece.due += draw(chance);
  }

 private:
  Duration draw(Random& chance) const {
    return by_ + Duration{static_cast<Duration::rep>(static_cast<double>(jitter_.count()) * chance.unit())};
  }
  Duration by_;
  Duration jitter_;
  bench::Way way_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const bench::Way way = way_of(action);
  const double jitter_s = action.value("jitter");
  std::string sentence = "frames are held up by " + format_quantity(action.value("by"), Dimension::time);
  if (jitter_s > 0.0) sentence += " and up to " + format_quantity(jitter_s, Dimension::time) + " more";
  sentence += ", " + in_words(way) + ": a master whose time-out is shorter gives up";
  if (bench::carries_rtu(bench.spec().lines[action.target.index].kind))
    sentence += ", and may take the answer for that to its next request";
  install(bench, action, std::make_unique<Delay>(action.duration("by"), action.duration("jitter"), way),
          sentence, at);
}

}  // namespace

const ActionKind kDelay{
    "delay", TargetKind::line, "holds up what goes over a line", Duration{}, perform, kKeys, lifted};

}  // namespace emberline::faults
