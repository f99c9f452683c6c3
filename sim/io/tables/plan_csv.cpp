#include "sim/base/csv_field.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_words.hpp"
#include "sim/registers/address.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kLineEnd = "\r\n";  // RFC 4180, 2.1

std::string line_of_fields(const std::vector<std::string>& fields) {
  return csv_fields(fields) + std::string(kLineEnd);
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
