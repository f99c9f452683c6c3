#include "sim/faults/line/tcp_refused.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

class TcpRefused final : public bench::Impairment {
 public:
  void conduct(bench::TcpConduct& conduct) const override { conduct.refuses = true; }
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  install(bench, action, std::make_unique<TcpRefused>(),
          "new connections are refused; those that are there go on", at);
}

}  // namespace

const ActionKind kTcpRefused{"tcp_refused",
                             TargetKind::tcp_line,
                             "refuses new connections, as if nobody listened",
                             Duration{},
                             perform,
                             {},
                             lifted};

}  // namespace emberline::faults
