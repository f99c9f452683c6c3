#include "tests/bench/servers.hpp"

#include <algorithm>

#include <unistd.h>

#include "tests/bench/load.hpp"
#include "tests/bench/plain_server.hpp"

namespace emberline::speed {
namespace {

/// The bench heats before it is measured, or its registers would stand still.
void warm_up(int port) {
  using std::chrono::milliseconds;
  ::sleep(2);  // start_up of the unit
  Load load(port, 1);
  load.ask(Ask::write, milliseconds{20});
  ::sleep(2);  // its ramp, and the window of its averages
  load.ask(Ask::read, milliseconds{20});
  const auto values = load.last_read();
  const auto alive = std::count_if(values.begin(), values.end(), [](auto value) { return value != 0; });
  if (alive < kRead) broken("only " + std::to_string(alive) + " of 16 registers are alive");
}

}  // namespace

Servers::Servers()
    : program_(EMBERLINE_SOURCE_DIR "/tests/bench/one-unit.yaml"),
      plain_(Child::answering(serve_plainly)),
      floor_(Child::answering(serve_canned)),
      all_{Server{"emberline", program_.port("ethernet"), program_.process()},
           Server{"plain libmodbus", plain_.port(), plain_.process()},
           Server{"floor", floor_.port(), floor_.process()}} {
  bind_to(processors().measuring);
  warm_up(all_[0].port);
}

void Servers::require_alive() const {
  program_.child().require_alive();
  plain_.require_alive();
  floor_.require_alive();
}

}  // namespace emberline::speed
