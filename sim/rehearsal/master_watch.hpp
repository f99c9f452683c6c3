#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"
#include "sim/bench/retries.hpp"
#include "sim/rehearsal/conduct_slave.hpp"
#include "sim/rehearsal/evidence.hpp"
#include "sim/rehearsal/longest_silence.hpp"

namespace emberline::rehearsal {

/// Watches what masters do over a whole run, for the verdict: what each wrote to each point, and for how long
/// it let each slave wait. Holds one line a master and point, however long the run.
class MasterWatch final : public bench::LineObserver {
 public:
  /// `spec` must outlive this.
  explicit MasterWatch(const bench::BenchSpec& spec);
  /// Who else wants to know of every request, and whether it is the one before once more.
  void on_request(std::function<void(const bench::RequestSeen& request, bool again)> listener);

  void bytes(const bench::BytesSeen& bytes) override { retries_.bytes(bytes); }
  void request(const bench::RequestSeen& request) override;
  void answer(const bench::AnswerSeen& answer) override { retries_.answer(answer); }
  void session_ended(const bench::SessionSeen& session) override { retries_.session_ended(session); }
  void write(const unit::WriteSeen& write) override;

  /// By master (without the port it came from), then point. Values are as they were asked for; lowest and
  /// highest are empty where numbers stand for words.
  [[nodiscard]] std::vector<WritesOfPoint> writes() const;
  /// The longest silence of each unit and each io-block up to `end`, between whole requests to it, broadcasts
  /// included, of whichever master; units first.
  [[nodiscard]] std::vector<Silence> silences(SimTime end) const;

 private:
  struct Written {
    std::uint64_t times = 0;
    std::uint64_t refused = 0;
    SimTime first_at;
    double first = 0.0;
    SimTime last_at;
    double last = 0.0;
    double lowest = 0.0;
    double highest = 0.0;
  };
  struct Heard {
    Slave slave;
    LongestSilence silence{};
  };
  using WrittenKey = std::tuple<std::string, std::string, registers::Point>;  ///< master, unit, point

  bench::Retries retries_;
  std::function<void(const bench::RequestSeen&, bool)> listener_;
  std::map<WrittenKey, Written> written_;
  std::vector<Heard> heard_;
};

}  // namespace emberline::rehearsal
