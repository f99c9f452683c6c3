#include "sim/base/quantity.hpp"
#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_words.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kLineEnd = "\r\n";  // RFC 4180, 2.1

/// Quoted where it has to be (RFC 4180, 2.5 to 2.7).
std::string field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

std::string line_of_fields(const std::vector<std::string>& fields) {
  std::string line;
  for (const auto& text : fields) line += (line.empty() ? "" : ",") + field(text);
  return line + std::string(kLineEnd);
}

}  // namespace

std::string plan_csv(const polling::PollPlan& plan) {
  std::string text = line_of_fields({"no", "slave", "unit_id", "function", "address", "reference", "count",
                                     "every_s", "phase_s", "line_time_s", "load", "bridged", "brings"});
  for (std::size_t i = 0; i < plan.requests.size(); ++i) {
    const auto& request = plan.requests[i];
    std::string names;
    for (const auto& name : wanted_of(plan, request)) names += (names.empty() ? "" : " ") + name;
    text += line_of_fields({std::to_string(i + 1), request.slave_name, std::to_string(request.id),
                            "0x" + code_words(request.function), registers::hexadecimal(request.range.first),
                            registers::reference_number(request.range.first, request.table),
                            std::to_string(request.range.count), format_number(to_seconds(request.every)),
                            format_number(to_seconds(request.phase)),
                            format_number(to_seconds(request.exchange.whole)),
                            format_number(load_of(request)), std::to_string(request.bridged), names});
  }
  return text;
}

}  // namespace emberline::io
