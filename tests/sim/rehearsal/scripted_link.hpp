#pragma once

#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/rehearsal/stand_in.hpp"

namespace emberline::rehearsal {

/// A link whose world is a script: time is simulated, a request takes 10 ms when it is answered and the
/// time-out when it is not. Everything the stand-in does is written down as "SECONDS what".
class ScriptedLink final : public MasterLink {
 public:
  /// How a request ends: with `words` (or bits), with a refusal, or with nothing.
  struct Answer {
    bool any = true;
    std::optional<modbus::Refusal> refusal{};
    std::uint16_t word = 0;              ///< every register (or bit) of the answer
    std::vector<std::uint16_t> words{};  ///< the registers of a read one by one, where they differ
  };
  using Script = std::function<Answer(const std::string& request, SimTime at)>;

  ScriptedLink(SimTime end, Duration timeout, Script script)
      : end_(end), timeout_(timeout), script_(std::move(script)) {}

  [[nodiscard]] SimTime now() const override { return now_; }
  [[nodiscard]] bool over() const override { return now_ > end_; }
  [[nodiscard]] bool sleep_until(SimTime at) override {
    if (at > now_) now_ = at;
    return !over();
  }
  Result<std::vector<std::uint16_t>, Failure> read_registers(const std::string& line, int id,
                                                             modbus::Table table,
                                                             modbus::AddressRange range) override {
    const char* word = table == modbus::Table::input_registers ? " input " : " holding ";
    const auto answer = ask(line + " " + std::to_string(id) + word + text(range));
    if (!answer) return emberline::Failure{answer.error()};
    if (!words_.empty()) return words_;
    return std::vector<std::uint16_t>(range.count, *answer);
  }
  Result<std::vector<bool>, Failure> read_bits(const std::string& line, int id, modbus::Table table,
                                               modbus::AddressRange range) override {
    const char* word = table == modbus::Table::coils ? " coils " : " discrete ";
    const auto answer = ask(line + " " + std::to_string(id) + word + text(range));
    if (!answer) return emberline::Failure{answer.error()};
    return std::vector<bool>(range.count, *answer != 0);
  }
  Result<Done, Failure> write_registers(const std::string& line, int id, std::uint16_t first,
                                        const std::vector<std::uint16_t>& values) override {
    std::string request = line + " " + std::to_string(id) + " write " + std::to_string(first) + " =";
    for (const auto value : values) request += " " + std::to_string(value);
    return done(ask(request));
  }
  Result<Done, Failure> write_bits(const std::string& line, int id, std::uint16_t first,
                                   const std::vector<bool>& values) override {
    std::string request = line + " " + std::to_string(id) + " coil " + std::to_string(first) + " =";
    for (const bool value : values) request += value ? " on" : " off";
    return done(ask(request));
  }
  void note(std::string sentence) override { log(sentence); }
  void power_fails_at(std::optional<SimTime> at) override { fails_at_ = at; }
  void lost_power() override { did.push_back(stamp() + "lost its connections"); }

  std::vector<std::string> did;    ///< requests, with the time at which they were sent
  std::vector<std::string> noted;  ///< notes, with the time

 private:
  static std::string text(modbus::AddressRange range) {
    return std::to_string(range.first) + "+" + std::to_string(range.count);
  }
  static Result<Done, Failure> done(const Result<std::uint16_t, Failure>& answer) {
    if (!answer) return emberline::Failure{answer.error()};
    return Done{};
  }
  [[nodiscard]] std::string stamp() const {
    return format_number(static_cast<double>(now_.time_since_epoch().count()) / 1e9) + " ";
  }
  void log(const std::string& sentence) { noted.push_back(stamp() + sentence); }

  Result<std::uint16_t, Failure> ask(const std::string& request) {
    did.push_back(stamp() + request);
    const Answer answer = script_(request, now_);
    words_ = answer.words;
    const SimTime through = now_ + (answer.any ? std::chrono::milliseconds{10} : timeout_);
    if (fails_at_ && *fails_at_ < through) {
      now_ = *fails_at_;
      return emberline::Failure{Failure{}};
    }
    now_ = through;
    if (!answer.any) return emberline::Failure{Failure{}};
    if (answer.refusal) return emberline::Failure{Failure{answer.refusal}};
    return answer.word;
  }

  SimTime now_{};
  std::vector<std::uint16_t> words_;  ///< of the answer of now
  SimTime end_;
  std::optional<SimTime> fails_at_;
  Duration timeout_;
  Script script_;
};

}  // namespace emberline::rehearsal
