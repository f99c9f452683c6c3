// What people say in words: lines of `tell` and standard input, quantities, formats of serial lines. The
// first byte tells which; the rest is the text.
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/faults/action.hpp"
#include "sim/io/control/hands.hpp"
#include "tests/fuzz/stepped_wall.hpp"

using namespace emberline;
using fuzz::must;

namespace {

bool has_controls(std::string_view text, std::string_view but = {}) {
  for (const char character : text) {
    const auto code = static_cast<unsigned char>(character);
    if ((code < 0x20 || code == 0x7F) && but.find(character) == std::string_view::npos) return true;
  }
  return false;
}

void read_action(const bench::BenchSpec& spec, std::string_view text) {
  const auto action = faults::parse_action(spec, text);
  if (!action) return must(!action.error().empty(), "a complaint has words");
  const auto again = faults::parse_action(spec, action->text());
  must(again.has_value(), "what an action says of itself is understood");
  must(again->text() == action->text(), "it is the same action again");
  must(again->kind == action->kind && again->target == action->target && again->values == action->values &&
           again->lasts == action->lasts,
       "it does the same");
}

struct Cut {
  std::vector<std::string> lines;
  std::size_t too_long = 0;
  bool operator==(const Cut&) const = default;
};

Cut cut(std::string_view text, std::size_t piece) {
  Cut result;
  io::LineCutter cutter(
      {[&](const std::string& line) { result.lines.push_back(line); }, [&] { ++result.too_long; }});
  for (; !text.empty(); text.remove_prefix(std::min(piece, text.size())))
    cutter.receive(text.substr(0, piece));
  cutter.end();
  return result;
}

/// All lines to one bench, one after the other, as a socket or standard input hands them over.
void tell(const bench::BenchSpec& spec, std::string_view text) {
  constexpr std::size_t kMostLines = 6;
  const auto whole = cut(text, text.size());
  for (const std::size_t piece : {std::size_t{1}, std::size_t{7}})
    must(cut(text, piece) == whole, "text that comes in pieces has the same lines");
  fuzz::SteppedBench bench(spec);
  const auto url = std::make_shared<const std::string>("http://127.0.0.1:8710/");
  const io::Hands hands{bench.wall, bench.bench, url, std::make_shared<const polling::PollPlans>()};
  std::size_t asked = 0;
  std::size_t answered = 0;
  for (const auto& line : whole.lines) {
    must(line.size() <= io::kLongestLine && line.find('\n') == std::string::npos,
         "a line is one, and no longer");
    if (asked == kMostLines) break;
    ++asked;
    io::do_line(hands, line, [&](const std::string& answer) {
      ++answered;
      must(answer == "pong" || answer.starts_with("ok ") || answer.starts_with("error "),
           "an answer is pong, ok or error");
      must(!has_controls(answer, "\t"), "an answer is one plain line");
    });
    bench.step(std::chrono::milliseconds{100});
  }
  must(asked == answered, "every line is answered once");
}

void read_quantity(std::string_view text) {
  const auto dimension = static_cast<Dimension>(text.empty() ? 0 : static_cast<unsigned char>(text[0]) % 28U);
  if (!text.empty()) text.remove_prefix(1);
  const auto value = parse_quantity(text, dimension);
  if (!value) return must(!value.error().empty(), "a complaint has words");
  must(std::isfinite(*value), "a quantity is a number");
  must(!has_controls(format_quantity(*value, dimension)), "it is written as one plain line");
  const auto number = format_number(*value);
  const auto again = parse_quantity(number, Dimension::number);
  must(again && *again == *value, "a number that is written reads back the same");
}

void read_serial_format(std::string_view text) {
  const auto format = parse_serial_format(text);
  if (!format) return must(!format.error().empty(), "a complaint has words");
  const auto again = parse_serial_format(to_text(*format));
  must(again && *again == *format, "a format that is written reads back the same");
  must(format->baud >= 1200 && format->data_bits == 8, "a format is one that can carry frames");
  must(t1_5(*format) < t3_5(*format) && character_time(*format) > Duration{}, "its times are in order");
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const auto three_phases = fuzz::shipped_bench("cure-oven.yaml");
  static const auto one_phase = fuzz::shipped_bench("water-heater.yaml");
  if (size == 0) return 0;
  const std::string_view text(reinterpret_cast<const char*>(data) + 1, size - 1);
  switch (data[0]) {
    case 't':
      tell(three_phases, text);
      break;
    case 'T':
      tell(one_phase, text);
      break;
    case 'q':
      read_quantity(text);
      break;
    case 's':
      read_serial_format(text);
      break;
    case 'A':
      read_action(one_phase, text);
      break;
    default:
      read_action(three_phases, text);
  }
  return 0;
}
