#include "sim/faults/line/half_open.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

/// As after a restart of the other end, or of something between the two that follows connections: nobody
/// closed anything, and nothing comes any more.
class HalfOpen final : public bench::Impairment {
 public:
  explicit HalfOpen(SimTime since) : since_(since) {}
  void conduct(bench::TcpConduct& conduct) const override { conduct.half_open_since = since_; }

 private:
  SimTime since_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  install(bench, action, std::make_unique<HalfOpen>(at),
          "the connections that are there are dead, and nobody has been told: masters get no answer until "
          "they connect anew",
          at);
}

}  // namespace

const ActionKind kHalfOpen{"half_open",
                           TargetKind::tcp_line,
                           "lets connections that are there go dead; new ones are good",
                           Duration{},
                           perform,
                           {},
                           lifted};

}  // namespace emberline::faults
