#include <string_view>
#include <utility>

#include "sim/base/quantity.hpp"
#include "sim/io/line/capture.hpp"
#include "sim/io/line/line_capture.hpp"
#include "sim/io/panel/hub_core.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kMostPoints = 1500;

/// What of the trends is asked for.
struct Wanted {
  std::vector<std::size_t> signals;
  Duration length{};
};

/// The names between commas.
std::vector<std::string_view> names_in(std::string_view text) {
  std::vector<std::string_view> names;
  while (!text.empty()) {
    const auto comma = text.find(',');
    if (comma != 0) names.push_back(text.substr(0, comma));
    text.remove_prefix(comma == std::string_view::npos ? text.size() : comma + 1);
  }
  return names;
}

Result<Wanted, PanelAnswer> wanted(const PanelRequest& request, const BenchFacts& facts, bool hides) {
  constexpr double kUsual_s = 300.0;
  Wanted wanted;
  double seconds = kUsual_s;
  if (const auto text = request.query.find("seconds"); text != request.query.end()) {
    const auto read = parse_quantity(text->second, Dimension::number);
    if (!read || *read <= 0.0 || *read > to_seconds(TrendStore::kKept))
      return Failure{refused(400, "seconds: expected a number above 0, at most 1800")};
    seconds = *read;
  }
  wanted.length = from_seconds(seconds);
  const auto signals = request.query.find("signals");
  if (signals == request.query.end()) return wanted;
  for (const auto name : names_in(signals->second)) {
    const auto place = facts.find(name);
    if (!place) return Failure{refused(400, "signals: there is no '" + std::string(name) + "'")};
    if (hides && facts.signals[*place].hidden)
      return Failure{refused(403, "'" + std::string(name) + "' is not shown in blind mode")};
    wanted.signals.push_back(*place);
  }
  return wanted;
}

/// A field of CSV (RFC 4180, 2.6 and 2.7).
std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

std::string csv_head(const BenchFacts::Signal& signal) {
  const auto dimension = signal.info.dimension;
  if (!bench::is_quantity(signal.info) || dimension == Dimension::ratio || natural_unit(dimension).empty())
    return csv_field(signal.name);
  const std::string unit(dimension == Dimension::energy ? "J" : natural_unit(dimension));
  return csv_field(signal.name + " " + unit);
}

std::string csv_value(const BenchFacts::Signal& signal, double value) {
  if (value != value) return {};
  if (!signal.info.values.empty() || !signal.info.flags.empty())
    return csv_field(bench::describe_value(signal.info, value));
  return format_number(tidy(value));
}

}  // namespace

PanelAnswer PanelHub::Impl::trend(const PanelRequest& request) {
  const auto& facts = run->facts();
  const auto wants = wanted(request, facts, hides(request.role));
  if (!wants) return wants.error();
  if (wants->signals.empty()) return refused(400, "expected signals=NAME,NAME");
  const auto trend = run->trends.last(wants->signals, wants->length, kMostPoints);
  JsonText json;
  json.object().key("at").array();
  for (const auto at : trend.at) json.number(tidy(to_seconds(at)));
  json.end_array().key("values").object();
  for (std::size_t s = 0; s < wants->signals.size(); ++s)
    put_numbers(json, facts.signals[wants->signals[s]].name, trend.values[s]);
  json.end_object().end_object();
  PanelAnswer answer;
  answer.body = std::move(json).finished();
  return answer;
}

PanelAnswer PanelHub::Impl::trend_csv(const PanelRequest& request) {
  const auto& facts = run->facts();
  const auto wants = wanted(request, facts, hides(request.role));
  if (!wants) return wants.error();
  auto signals = wants->signals;
  for (std::size_t s = 0; wants->signals.empty() && s < facts.signals.size(); ++s)
    if (!hides(request.role) || !facts.signals[s].hidden) signals.push_back(s);
  const auto trend = run->trends.last(signals, wants->length, ~std::size_t{0});
  std::string text = "time s";
  for (const auto s : signals) text += "," + csv_head(facts.signals[s]);
  for (std::size_t row = 0; row < trend.at.size(); ++row) {
    text += "\r\n" + format_number(to_seconds(trend.at[row]));
    for (std::size_t s = 0; s < signals.size(); ++s)
      text += "," + csv_value(facts.signals[signals[s]], trend.values[s][row]);
  }
  PanelAnswer answer;
  answer.type = "text/csv; charset=utf-8";
  answer.body = text + "\r\n";
  answer.file_name = "trend.csv";
  return answer;
}

PanelAnswer PanelHub::Impl::capture(const PanelRequest& /*request*/) {
  auto capture = Capture::in_memory(run->facts().spec.lines);
  auto ended = run->traffic.ended().begin();
  const auto close_before = [&](std::uint64_t n) {
    for (; ended != run->traffic.ended().end() && ended->after < n; ++ended)
      capture->connection_closed(ended->line, ended->session, ended->at, ending_of(ended->how));
  };
  for (const auto& frame : run->traffic.frames()) {
    close_before(frame.n);
    capture->bytes(frame.line, frame.session, !frame.to_units, frame.bytes, frame.at);
  }
  close_before(~std::uint64_t{0});
  const auto bytes = capture->take();
  PanelAnswer answer;
  answer.type = "application/x-pcapng";
  answer.body.assign(bytes.begin(), bytes.end());
  answer.file_name = "capture.pcapng";
  return answer;
}

}  // namespace emberline::io
