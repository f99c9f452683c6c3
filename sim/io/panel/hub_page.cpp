#include <algorithm>
#include <cmath>
#include <utility>

#include <boost/json.hpp>

#include "sim/io/panel/hub_core.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

namespace json = boost::json;

constexpr double kTicksASecond = 20.0;
constexpr double kSlowest = 0.2;  // messages a second
constexpr double kQuickest = 10.0;
constexpr std::size_t kMostSignals = 100;
constexpr std::uint64_t kFramesToBeginWith = 50;

std::optional<double> number_in(const json::value& value) {
  if (value.is_double()) return value.get_double();
  if (value.is_int64()) return static_cast<double>(value.get_int64());
  if (value.is_uint64()) return static_cast<double>(value.get_uint64());
  return std::nullopt;
}

std::string read_flag(std::string_view key, const json::value& value, bool& into) {
  if (!value.is_bool()) return std::string(key) + ": expected true or false";
  into = value.get_bool();
  return {};
}

std::string read_rate(const json::value& value, std::uint64_t& ticks) {
  const auto rate = number_in(value);
  if (!rate || *rate < kSlowest || *rate > kQuickest)
    return "rate: expected a number from 0.2 to 10 a second";
  ticks = static_cast<std::uint64_t>(std::lround(kTicksASecond / *rate));
  return {};
}

std::string read_after(const json::value& value, std::optional<std::uint64_t>& into) {
  into.reset();
  if (value.is_null()) return {};
  if (value.is_uint64()) into = value.get_uint64();
  if (value.is_int64() && value.get_int64() >= 0) into = static_cast<std::uint64_t>(value.get_int64());
  return into ? std::string() : "journal_after: expected the number of an entry, 0 for all of them";
}

std::string no_signal(std::string_view name) { return "signals: there is no '" + std::string(name) + "'"; }

}  // namespace

HubPage::HubPage(PanelHub::Impl& hub, Role role, LiveSink& sink)
    : hub_(hub), role_(role), sink_(sink), generation_(hub.generation), watchers_anew_(hub.watchers_anew) {
  hub_.pages.push_back(this);
}

HubPage::~HubPage() { std::erase(hub_.pages, this); }

std::string HubPage::understand(const std::string& text, Wants& wants) const {
  json::error_code error;
  const auto root = json::parse(text, error);
  if (error || !root.is_object())
    return R"(expected a JSON object such as {"rate":10,"state":true,"journal_after":0,"traffic":true})";
  for (const auto& member : root.get_object()) {
    const std::string_view key(member.key());
    const json::value& value = member.value();
    std::string wrong;
    if (key == "rate") {
      wrong = read_rate(value, wants.every);
    } else if (key == "state") {
      wrong = read_flag(key, value, wants.state);
    } else if (key == "traffic") {
      wrong = read_flag(key, value, wants.traffic);
    } else if (key == "lesson") {
      wrong = read_flag(key, value, wants.lesson);
    } else if (key == "journal_after") {
      wrong = read_after(value, wants.journal_after);
    } else if (key == "signals") {
      if (!value.is_array() || value.get_array().size() > kMostSignals)
        return "signals: expected a list of at most " + std::to_string(kMostSignals) + " names";
      wants.signals.clear();
      for (const auto& name : value.get_array()) {
        if (!name.is_string()) return "signals: expected a list of names";
        const std::string_view signal(name.get_string());
        if (hub_.run) {  // else they are looked for when a bench runs
          const auto place = hub_.run->facts().find(signal);
          if (!place) return no_signal(signal);
          if (hub_.hides(role_) && hub_.run->facts().signals[*place].hidden)
            return "signals: '" + std::string(signal) + "' is not shown in blind mode";
        }
        wants.signals.emplace_back(signal);
      }
    } else {
      return "'" + std::string(key) +
             "' is not known; expected rate, state, journal_after, traffic, lesson, signals";
    }
    if (!wrong.empty()) return wrong;
  }
  return {};
}

void HubPage::told(const std::string& text) {
  hub_.collect();
  Wants wants = wants_;
  if (const auto wrong = understand(text, wants); !wrong.empty()) {
    (void)send_error(wrong);
    return;
  }
  if (wants.traffic && !wants_.traffic && hub_.run) {
    const auto last = hub_.run->traffic.last();
    traffic_after_ = last - std::min(last, kFramesToBeginWith);
  }
  if (wants.lesson && !wants_.lesson) lesson_version_.reset();
  if (wants.signals != wants_.signals) values_sent_ = 0;
  wants_ = std::move(wants);
  (void)find_signals();
}

/// Looks for the signals it wants on the bench that runs; the first that is not there, if any.
std::string HubPage::find_signals() {
  places_.clear();
  std::string missing;
  if (!hub_.run) return missing;
  const auto& facts = hub_.run->facts();
  for (const auto& name : wants_.signals) {
    const auto place = facts.find(name);
    if (!place && missing.empty()) missing = name;
    if (place && !(hub_.hides(role_) && facts.signals[*place].hidden)) places_.push_back(*place);
  }
  return missing;
}

std::optional<std::uint64_t> HubPage::wants_every() const {
  if (!wants_.state && !wants_.traffic && wants_.signals.empty()) return std::nullopt;
  return wants_.every;
}

bool HubPage::send(std::string text) {
  return sink_.send(std::make_shared<const std::string>(std::move(text)));
}

bool HubPage::send_error(std::string_view error) {
  JsonText answer;
  answer.object().key("type").text("error").key("error").text(error).end_object();
  return send(std::move(answer).finished());
}

/// Tells a page to forget what it knows, when that is of another run or of what it may no longer see.
bool HubPage::begin_anew() {
  const bool anew =
      hub_.generation != generation_ || (role_ == Role::watcher && hub_.watchers_anew != watchers_anew_);
  if (!anew) return true;
  if (!send(R"({"type":"restarted"})")) return false;
  generation_ = hub_.generation;
  watchers_anew_ = hub_.watchers_anew;
  if (wants_.journal_after) wants_.journal_after = 0;
  traffic_after_ = 0;
  state_sent_ = 0;
  values_sent_ = 0;
  lesson_version_.reset();
  if (const auto missing = find_signals(); !missing.empty()) (void)send_error(no_signal(missing));
  return true;
}

void HubPage::tick() {
  if (hub_.lesson != nullptr && wants_.lesson) send_lesson();
  if (!hub_.run || !begin_anew()) return;
  if (wants_.state) send_state();
  if (!places_.empty()) send_values();
  if (wants_.journal_after) send_journal();
  if (wants_.traffic) send_traffic();
}

void HubPage::send_state() {
  if (hub_.ticks < state_tick_ + wants_.every || hub_.run->snapshots == state_sent_) return;
  if (!sink_.send(hub_.state_message(role_))) return;
  state_sent_ = hub_.run->snapshots;
  state_tick_ = hub_.ticks;
}

void HubPage::send_values() {
  if (hub_.ticks < values_tick_ + wants_.every || hub_.run->snapshots == values_sent_) return;
  JsonText text;
  text.object().key("type").text("values").key("at").time(hub_.run->snapshot.at);
  text.key("values").object();
  for (const auto place : places_)
    text.key(hub_.run->facts().name(place)).number(tidy(hub_.run->snapshot.values[place]));
  text.end_object().end_object();
  if (!send(std::move(text).finished())) return;
  values_sent_ = hub_.run->snapshots;
  values_tick_ = hub_.ticks;
}

void HubPage::send_journal() {
  std::uint64_t after = *wants_.journal_after;
  if (after >= hub_.run->journal.last(hub_.hides(role_))) return;
  if (sink_.send(hub_.journal_message(role_, after))) wants_.journal_after = after;
}

void HubPage::send_traffic() {
  if (hub_.ticks < traffic_tick_ + wants_.every ||
      traffic_after_ >= hub_.run->traffic.settled(hub_.run->snapshot.at))
    return;
  std::uint64_t after = traffic_after_;
  if (!sink_.send(hub_.traffic_message(after))) return;
  traffic_after_ = after;
  traffic_tick_ = hub_.ticks;
}

void HubPage::send_lesson() {
  const auto version = hub_.lesson->version();
  if (lesson_version_ == version) return;
  const auto state = hub_.lesson->state_json(hub_.hides(role_));
  if (state.size() < 2 || state.front() != '{') return;
  const std::string rest = state.size() > 2 ? "," + state.substr(1) : "}";
  if (send(R"({"type":"lesson")" + rest)) lesson_version_ = version;
}

}  // namespace emberline::io
