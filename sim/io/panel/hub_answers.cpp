#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "plant-models/electrical/network_result.hpp"
#include "sim/bench/traffic_text.hpp"
#include "sim/faults/action.hpp"
#include "sim/io/panel/assets.hpp"
#include "sim/io/panel/bench_json.hpp"
#include "sim/io/panel/hub_core.hpp"
#include "sim/io/panel/json_bits.hpp"
#include "sim/io/panel/metrics.hpp"
#include "sim/io/panel/traffic_json.hpp"
#include "sim/io/report/json_find.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kMostEntries = 1000;
constexpr std::size_t kMostFrames = 500;

PanelAnswer json_answer(std::string body) {
  PanelAnswer answer;
  answer.body = std::move(body);
  return answer;
}

/// A whole number in the query, or what holds without it; nothing: it is none, or above `most`.
std::optional<std::uint64_t> whole_in(const PanelRequest& request, const char* key, std::uint64_t fallback,
                                      std::uint64_t most) {
  const auto found = request.query.find(key);
  if (found == request.query.end()) return fallback;
  const std::string& text = found->second;
  std::uint64_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc{} || end != text.data() + text.size() || number > most) return std::nullopt;
  return number;
}

PanelAnswer no_such_page() {
  return refused(400, "expected after=N and limit=N, whole numbers, limit at most 1000");
}

/// One member of the object in a body; null if it is not there, is not alone, or the body is something else.
boost::json::value only_member(const std::string& body, std::string_view key) {
  const auto root = parse_json(body);
  const auto* found = find_member(&root, key);
  return found == nullptr || root.get_object().size() != 1 ? boost::json::value(nullptr) : *found;
}

}  // namespace

PanelAnswer PanelHub::Impl::openapi(const PanelRequest& /*request*/) {
  const Asset* asset = find_asset("/api/openapi.json");
  if (asset == nullptr) return refused(404, "this program was built without its description");
  return json_answer(std::string(asset->content));
}

PanelAnswer PanelHub::Impl::bench_description(const PanelRequest& request) {
  // Hundreds of kilobytes that stay as they are, and a whole class asks at once.
  auto& text = run->description[{request.role, hides(request.role)}];
  if (text.empty()) text = bench_json(run->facts(), options.version, request.role, hides(request.role));
  return json_answer(text);
}

PanelAnswer PanelHub::Impl::state_now(const PanelRequest& request) {
  return json_answer(state(request.role, {}));
}

PanelAnswer PanelHub::Impl::journal(const PanelRequest& request) {
  const auto after = whole_in(request, "after", 0, ~std::uint64_t{0});
  const auto limit = whole_in(request, "limit", 200, kMostEntries);
  if (!after || !limit) return no_such_page();
  return json_answer(run->journal.json(hides(request.role), *after, static_cast<std::size_t>(*limit)));
}

PanelAnswer PanelHub::Impl::traffic(const PanelRequest& request) {
  const auto after = whole_in(request, "after", 0, ~std::uint64_t{0});
  const auto limit = whole_in(request, "limit", 100, kMostEntries);
  if (!after || !limit) return no_such_page();
  JsonText json;
  json.object();
  put_frames(json, run->facts(), run->traffic,
             {*after, run->traffic.last(), std::min(static_cast<std::size_t>(*limit), kMostFrames),
              run->snapshot.at});
  json.key("last").whole(run->traffic.last()).end_object();
  return json_answer(std::move(json).finished());
}

void PanelHub::Impl::share(const std::string& path, PanelReply reply, Copy copy) {
  constexpr std::uint64_t kGoodFor = 5;  // ticks: a quarter of a second
  auto& shared = run->shared[path];
  if (!shared) shared = std::make_shared<Shared>();
  if (!shared->json.empty() && ticks < shared->came_at + kGoodFor) return reply(json_answer(shared->json));
  shared->waiting.push_back(std::move(reply));
  if (shared->on_its_way) return;
  shared->on_its_way = run->link->post([shared, copy = std::move(copy)](bench::Bench& bench, SimTime at) {
    shared->text = copy(bench, at);
    shared->come = true;
  });
}

void PanelHub::Impl::answer_shared() {
  if (!run) return;
  for (auto& [path, shared] : run->shared) {
    if (!shared->come.exchange(false)) continue;
    shared->on_its_way = false;
    shared->came_at = ticks;
    shared->json = std::exchange(shared->text, nullptr)();
    for (auto& reply : std::exchange(shared->waiting, {})) reply(json_answer(shared->json));
  }
}

void PanelHub::Impl::review(const PanelRequest& request, PanelReply reply) {
  share(request.path, std::move(reply), [this](bench::Bench& bench, SimTime) -> std::function<std::string()> {
    return [this, review = bench.traffic()] {
      JsonText json;
      json.object();
      put_texts(json, "lines",
                options.traffic_lines ? options.traffic_lines(review) : bench::traffic_lines(review));
      json.end_object();
      return std::move(json).finished();
    };
  });
}

namespace {

std::string waves_json(const std::string& unit, const std::vector<std::string>& phases, SimTime at,
                       double frequency_Hz, const plant::Waves& waves) {
  const auto rounded = [](double value) { return std::round(value * 100.0) / 100.0; };
  const auto put_wave = [&](JsonText& json, const char* key, const plant::Waves::Wave& wave) {
    json.key(key).array();
    for (const double value : wave) json.number(rounded(value));
    json.end_array();
  };
  JsonText json;
  json.object().key("unit").text(unit).key("at").time(at).key("frequency").number(tidy(frequency_Hz));
  json.key("phases").array();
  for (std::size_t p = 0; p < phases.size(); ++p) {
    json.object().key("name").text(phases[p]);
    put_wave(json, "voltage", waves.voltage_V[p]);
    put_wave(json, "current", waves.current_A[p]);
    json.end_object();
  }
  json.end_array().end_object();
  return std::move(json).finished();
}

}  // namespace

void PanelHub::Impl::waves(const PanelRequest& request, PanelReply reply) {
  constexpr std::string_view kBefore = "/api/waves/";
  const std::string name = request.path.substr(kBefore.size());
  const auto unit = run->facts().spec.find_unit(name);
  if (!unit) return reply(refused(404, "there is no unit '" + name + "'"));
  const auto copy = [name, u = *unit, phases = run->facts().units[*unit].phases](
                        bench::Bench& bench, SimTime at) -> std::function<std::string()> {
    const bench::SignalId frequency{bench::SignalId::Kind::supply_frequency, 0, 0};
    const auto waves = std::make_shared<const plant::Waves>(bench.waves(u));
    return [=, frequency_Hz = bench.value(frequency, at)] {
      return waves_json(name, phases, at, frequency_Hz, *waves);
    };
  };
  share(request.path, std::move(reply), copy);
}

void PanelHub::Impl::act(const PanelRequest& request, PanelReply reply) {
  const auto text = only_member(request.body, "do");
  if (!text.is_string()) return reply(refused(400, R"(expected {"do":"cut LINE for 10 s"})"));
  const auto action = faults::parse_action(run->facts().spec, std::string_view(text.get_string()));
  if (!action) return reply(refused(422, action.error()));
  auto shared = std::make_shared<PanelReply>(std::move(reply));
  const auto link = run->link;
  (void)link->post([shared, link, action = *action](bench::Bench&, SimTime at) {
    const auto undo = link->carry_out(action, at);
    JsonText json;
    json.object().key("done").text(action.text());
    put_text_or_null(json, "undo", undo);
    json.end_object();
    (*shared)(json_answer(std::move(json).finished()));
  });
}

PanelAnswer PanelHub::Impl::set_blind(const PanelRequest& request) {
  const auto on = only_member(request.body, "on");
  if (!on.is_bool()) return refused(400, R"(expected {"on":true} or {"on":false})");
  if (blind != on.get_bool()) ++watchers_anew;
  blind = on.get_bool();
  return json_answer(blind ? R"({"blind":true})" : R"({"blind":false})");
}

PanelAnswer PanelHub::Impl::lesson_state(const PanelRequest& request) {
  if (lesson == nullptr) return refused(404, "no lesson is open");
  return json_answer(lesson->state_json(hides(request.role)));
}

PanelAnswer PanelHub::Impl::lesson_told(const PanelRequest& request) {
  if (lesson == nullptr) return refused(404, "no lesson is open");
  if (const auto told = lesson->told(request.body); !told) return refused(422, told.error());
  return json_answer(lesson->state_json(hides(request.role)));
}

PanelAnswer PanelHub::Impl::metrics(const PanelRequest& /*request*/) {
  PanelAnswer answer;
  answer.type = "text/plain; version=0.0.4; charset=utf-8";
  answer.body = metrics_text({run->facts(), run->snapshot, run->traffic, options.version});
  return answer;
}

}  // namespace emberline::io
