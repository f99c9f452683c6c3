#include <string>

#include <unistd.h>

#include "sim/polling/line_time.hpp"
#include "tests/bench/child.hpp"
#include "tests/bench/serial_master.hpp"
#include "tests/bench/speed.hpp"

namespace emberline::speed {
namespace {

constexpr auto kRound = std::chrono::seconds{3};
constexpr auto kPause = std::chrono::milliseconds{3};  // longer than t3.5 at 19200 baud

/// Asks over the serial line, one after the other, and counts how much later than due each answer is there.
class Watch {
 public:
  explicit Watch(SerialMaster& master) : master_(master) {
    bench::LineSpec line;  // 19200 8E1
    const auto exchange = polling::read_exchange(line, {}, {}, modbus::Table::holding_registers, kRead);
    due_ = exchange.request + exchange.answer;
  }
  void look() {
    if (master_.waiting()) {
      if (!master_.look()) return;
      const auto late = master_.took() - due_;
      if (late < -std::chrono::milliseconds{1}) broken("before its time on a serial line");
      late_.add(late);
      next_ = Clock::now() + kPause;
    } else if (Clock::now() >= next_) {
      master_.ask(Ask::read);
    }
  }
  [[nodiscard]] const Histogram& late() const { return late_; }
  [[nodiscard]] double due_ms() const { return to_seconds(due_) * 1e3; }

 private:
  SerialMaster& master_;
  Duration due_{};
  Clock::time_point next_{};
  Histogram late_;
};

void add_row(Table& table, const char* what, const Watch& watch) {
  table.row({what, number(static_cast<double>(watch.late().count())), number(watch.late().quantile_us(0.5)),
             number(watch.late().quantile_us(0.99)), number(watch.late().largest_us())});
}

}  // namespace

void lateness() {
  Table table({"beside it", "answers", "p50 us", "p99 us", "latest us"});
  std::string due;
  {
    const Served program(EMBERLINE_SOURCE_DIR "/tests/bench/paced-pty.yaml");
    bind_to(processors().measuring);
    ::sleep(2);  // start_up of the unit
    SerialMaster master(program.path("wire"));
    Watch idle(master), busy(master);
    for (int round = 0; round < (wanted().rounds + 1) / 2; ++round) {
      for (const auto end = Clock::now() + kRound; Clock::now() < end;) idle.look();
      while (master.waiting()) idle.look();
      Load load(program.port("ethernet"), 8);
      load.ask(Ask::read, kRound, [&busy] { busy.look(); });
      while (master.waiting()) busy.look();
    }
    add_row(table, "nothing", idle);
    add_row(table, "8 busy connections", busy);
    due = number(idle.due_ms(), 2);
  }
  unbind();
  table.print(
      "How late answers leave that take their time: a pseudo-terminal at 19200 8E1, 03 of 16",
      "Due is " + due +
          " ms after the request is written: its 8 characters, 3.5 of silence and the answer's 37, of 11 "
          "bits each "
          "(Modbus over Serial Line V1.02, 2.5.1). The way in, being taken up and the way out are in it.");
}

}  // namespace emberline::speed
