#include <algorithm>
#include <bit>
#include <deque>
#include <memory>
#include <string_view>
#include <utility>

#include "sim/base/csv_field.hpp"
#include "sim/base/quantity.hpp"
#include "sim/io/line/capture.hpp"
#include "sim/io/line/line_capture.hpp"
#include "sim/io/panel/hub_core.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kMostPoints = 1500;       // instants of a drawn trend
constexpr std::size_t kMostDrawn = 60'000;      // its values, of all signals together
constexpr std::size_t kMostValues = 1'500'000;  // of a file
constexpr std::size_t kValuesAPiece = 30'000;   // a few milliseconds' work
constexpr std::size_t kFramesAPiece = 1'000;    // the same

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
    if (std::find(wanted.signals.begin(), wanted.signals.end(), *place) == wanted.signals.end())
      wanted.signals.push_back(*place);
  }
  return wanted;
}

std::string csv_head(const std::string& name, const bench::SignalInfo& info) {
  const auto dimension = info.dimension;
  if (!bench::is_quantity(info) || dimension == Dimension::ratio || natural_unit(dimension).empty())
    return csv_field(name);
  const std::string unit(dimension == Dimension::energy ? "J" : natural_unit(dimension));
  return csv_field(name + " " + unit);
}

std::string csv_value(const bench::SignalInfo& info, double value) {
  if (value != value) return {};
  if (!info.values.empty() || !info.flags.empty()) return csv_field(bench::describe_value(info, value));
  return format_number(tidy(value));
}

/// Trends as CSV.
class TrendFile final : public Download {
 public:
  TrendFile(const BenchFacts& facts, TrendStore::Walk walk) : facts_(facts), walk_(std::move(walk)) {
    const auto& signals = walk_.signals();
    text_ = "time_s";
    for (const auto s : signals) text_ += "," + csv_head(facts_.name(s), facts_.info(s));
    shown_.resize(signals.size());
  }
  std::optional<PanelAnswer> go_on() override {
    const std::size_t columns = walk_.signals().size() + 1;
    for (std::size_t made = 0; made < kValuesAPiece; made += columns) {
      if (!walk_.next()) return whole();
      put_row();
    }
    return std::nullopt;
  }

 private:
  /// A value in words; what stays the same is written once.
  struct Shown {
    std::uint64_t bits = 0;
    std::optional<std::string> text;
  };
  void put_row() {
    text_ += "\r\n";
    text_ += format_number(to_seconds(walk_.at()));
    for (std::size_t s = 0; s < shown_.size(); ++s) {
      const double value = walk_.value(s);
      Shown& shown = shown_[s];
      const auto bits = std::bit_cast<std::uint64_t>(value);
      if (!shown.text || shown.bits != bits) {
        shown.text = csv_value(facts_.info(walk_.signals()[s]), value);
        shown.bits = bits;
      }
      text_ += ',';
      text_ += *shown.text;
    }
  }
  PanelAnswer whole() {
    PanelAnswer answer;
    answer.type = "text/csv; charset=utf-8";
    text_ += "\r\n";
    answer.body = std::move(text_);
    answer.file_name = "trend.csv";
    return answer;
  }

  const BenchFacts& facts_;
  TrendStore::Walk walk_;
  std::vector<Shown> shown_;
  std::string text_;
};

/// The frames that are kept, as a capture.
class CaptureFile final : public Download {
 public:
  CaptureFile(const BenchFacts& facts, const TrafficFeed& traffic)
      : traffic_(traffic), capture_(Capture::in_memory(facts.spec.lines)) {}
  std::optional<PanelAnswer> go_on() override {
    if (!std::exchange(begun_, true)) {
      last_ = traffic_.last();
      ended_ = traffic_.ended();
    }
    const auto [begin, end] = traffic_.between(done_, last_, TrafficFeed::kMost);
    const auto stop = std::min(end, begin + kFramesAPiece);
    for (auto i = begin; i < stop; ++i) {
      const auto& frame = traffic_.frames()[i];
      close_before(frame.n);
      capture_->bytes(frame.line, frame.session, !frame.to_units, frame.bytes, frame.at);
      done_ = frame.n;
    }
    if (stop < end) return std::nullopt;
    close_before(last_ + 1);
    const auto bytes = capture_->take();
    PanelAnswer answer;
    answer.type = "application/x-pcapng";
    answer.body.assign(bytes.begin(), bytes.end());
    answer.file_name = "capture.pcapng";
    return answer;
  }

 private:
  void close_before(std::uint64_t n) {
    for (; !ended_.empty() && ended_.front().after < n; ended_.pop_front()) {
      const auto& ended = ended_.front();
      capture_->connection_closed(ended.line, ended.session, ended.at, ending_of(ended.how));
    }
  }

  const TrafficFeed& traffic_;
  std::unique_ptr<Capture> capture_;
  bool begun_ = false;
  std::uint64_t last_ = 0;
  std::uint64_t done_ = 0;
  std::deque<TrafficFeed::Ended> ended_;
};

}  // namespace

PanelAnswer PanelHub::Impl::trend(const PanelRequest& request) {
  const auto& facts = run->facts();
  const auto wants = wanted(request, facts, hides(request.role));
  if (!wants) return wants.error();
  if (wants->signals.empty()) return refused(400, "expected signals=NAME,NAME");
  const auto most = std::min(kMostPoints, kMostDrawn / wants->signals.size());
  const auto trend = run->trends.last(wants->signals, wants->length, most);
  JsonText json;
  json.object().key("at").array();
  for (const auto at : trend.at) json.time(at);
  json.end_array().key("values").object();
  for (std::size_t s = 0; s < wants->signals.size(); ++s)
    put_numbers(json, facts.name(wants->signals[s]), trend.values[s]);
  json.end_object().end_object();
  PanelAnswer answer;
  answer.body = std::move(json).finished();
  return answer;
}

void PanelHub::Impl::trend_csv(const PanelRequest& request, PanelReply reply) {
  const auto& facts = run->facts();
  const auto wants = wanted(request, facts, hides(request.role));
  if (!wants) return reply(wants.error());
  auto signals = wants->signals;
  for (std::size_t s = 0; wants->signals.empty() && s < facts.signals.size(); ++s)
    if (!hides(request.role) || !facts.signals[s].hidden) signals.push_back(s);
  const auto columns = signals.size() + 1;
  TrendStore::Walk walk(run->trends, std::move(signals), wants->length);
  const auto values = walk.left() * columns;
  if (values > kMostValues)
    return reply(refused(400, "that would be " + std::to_string(values) + " values, of " +
                                  std::to_string(kMostValues) +
                                  " that a file may have; expected fewer signals, or fewer seconds"));
  begin(std::make_unique<TrendFile>(facts, std::move(walk)), request.role, std::move(reply), 0);
}

void PanelHub::Impl::capture(const PanelRequest& request, PanelReply reply) {
  begin(std::make_unique<CaptureFile>(run->facts(), run->traffic), request.role, std::move(reply),
        run->link->asked() + 1);
}

void PanelHub::Impl::begin(std::unique_ptr<Download> file, Role role, PanelReply reply,
                           std::uint64_t snapshot) {
  const auto busy = [] { return refused(503, "another file is being made; try again in a second"); };
  auto& making = run->making;
  // One for all, and the class does not keep the trainer from it.
  if (making && (making->role == Role::trainer || role == Role::watcher)) return reply(busy());
  if (making) making->reply(busy());
  making.reset();
  making.emplace(std::move(file), role, std::move(reply), snapshot);
  ask_for_snapshot();
}

void PanelHub::Impl::make_files() {
  if (!run || !run->making || run->making->needs > run->number) return;
  auto answer = run->making->file->go_on();
  if (!answer) return;
  run->making->reply(*std::move(answer));
  run->making.reset();
}

}  // namespace emberline::io
