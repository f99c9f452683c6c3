#include "sim/faults/line/tcp_silent.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

class TcpSilent final : public bench::Impairment {
 public:
  void conduct(bench::TcpConduct& conduct) const override { conduct.silent = true; }
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  install(bench, action, std::make_unique<TcpSilent>(),
          "connections are accepted, but nothing on any of them is read or answered: masters run into their "
          "time-out",
          at);
}

}  // namespace

const ActionKind kTcpSilent{"tcp_silent",
                            TargetKind::tcp_line,
                            "accepts connections, but reads and answers nothing",
                            Duration{},
                            perform,
                            {},
                            lifted};

}  // namespace emberline::faults
