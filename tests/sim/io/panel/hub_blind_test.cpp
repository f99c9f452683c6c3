#include <map>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/faults/action.hpp"
#include "sim/io/panel/hub_routes.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using test::HubRig;
using test::Sink;

namespace {

constexpr auto kWatcher = io::Role::watcher;

/// An action of this kind as the bench describes it: its first target, and a value for each key it needs.
std::string example_of(const boost::json::value& action) {
  static const std::map<std::string, std::string, std::less<>> kValues{
      {"duration", "200 ms"}, {"share", "30 %"},      {"percentage", "80 %"}, {"whole", "2"},
      {"rate", "0.001"},      {"frequency", "49 Hz"}, {"difference", "15 K"}};
  std::string text(action.at("word").as_string());
  text += " " + std::string(action.at("targets").at(0).as_string());
  for (const auto& key : action.at("keys").as_array()) {
    if (!key.at("required").as_bool()) continue;
    const std::string_view kind(key.at("kind").as_string());
    text += " " + std::string(key.at("key").as_string()) + " ";
    text += kind == "word" ? std::string(key.at("words").at(0).as_string()) : kValues.find(kind)->second;
  }
  return text;
}

/// All that a watcher can read.
std::string all_a_watcher_reads(HubRig& rig, const Sink& sink) {
  std::string text;
  for (const auto& route : io::hub_routes()) {
    if (route.method != "GET" || route.path == "/api/openapi.json") continue;
    std::string path(route.path);
    if (const auto name = path.find('{'); name != std::string::npos)
      path = path.substr(0, name) + "front-heater";
    text += rig.get(path, {{"signals", ""}}, kWatcher).body + "\n";
  }
  for (const auto& sent : sink.texts) text += *sent + "\n";
  return text;
}

}  // namespace

TEST_CASE("a class in blind mode reads somewhere what the trainer has done") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"), {"1.2.3", true});
  const auto actions = rig.get("/api/bench").json().at("actions").as_array();
  REQUIRE(actions.size() > 30);
  Sink sink;
  const auto page = rig.hub.connected(kWatcher, sink);
  page->told(R"({"rate":10,"state":true,"journal_after":0,"traffic":true})");
  for (const auto& action : actions) {
    const auto example = example_of(action);
    CAPTURE(example);
    sink.texts.clear();
    const auto before = rig.get("/api/journal").json().at("last").to_number<std::uint64_t>();
    const auto done = rig.post("/api/actions", boost::json::serialize(boost::json::value{{"do", example}}));
    CAPTURE(done.body);
    REQUIRE(done.status == 200);
    rig.until([&] { return sink.count("state") >= 2; });

    std::set<std::string> traces{example};
    if (const auto undo = done.json().at("undo"); undo.is_string()) traces.emplace(undo.as_string());
    const auto entries = rig.get("/api/journal", {{"limit", "1000"}}).json().at("entries");
    for (const auto& entry : entries.as_array())
      if (entry.at("by_action").as_bool() && entry.at("n").to_number<std::uint64_t>() > before)
        traces.emplace(entry.at("sentence").as_string());
    // A symptom has the same words whatever it came of.
    for (const auto& entry : entries.as_array())
      if (!entry.at("by_action").as_bool()) traces.erase(std::string(entry.at("sentence").as_string()));
    const auto read = all_a_watcher_reads(rig, sink);
    for (const auto& trace : traces) {
      CAPTURE(trace);
      CHECK(read.find(trace) == std::string::npos);
    }
    // The trainer's page has all of it.
    CHECK(rig.get("/api/state").json().at("blind").as_bool());
    const auto state = rig.get("/api/state", {}, kWatcher).json();
    CHECK(state.at("in_force").as_array().empty());
    for (const auto& line : state.at("lines").as_array()) CHECK(line.at("state").is_null());
    for (const auto& zone : state.at("zones").as_array()) CHECK(zone.at("temperature").is_null());
  }
  // No number that a class sees has a gap where something is hidden.
  const auto entries = rig.get("/api/journal", {{"limit", "1000"}}, kWatcher).json().at("entries").as_array();
  std::uint64_t n = 0;
  for (const auto& entry : entries) {
    CHECK(entry.at("n").to_number<std::uint64_t>() == ++n);
    CHECK_FALSE(entry.at("by_action").as_bool());
  }
}

TEST_CASE("a signal that tells of faults is shown to a class in blind mode") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"), {"1.2.3", true});
  const auto spec = test::shipped_bench("tunnel-dryer.yaml");
  Sink sink;
  const auto page = rig.hub.connected(kWatcher, sink);
  int hidden = 0;
  for (const auto& name : bench::all_signal_names(spec)) {
    CAPTURE(name);
    const auto id = *bench::find_signal(spec, name);
    const bool tells = id.kind == bench::SignalId::Kind::line_state ||
                       id.kind == bench::SignalId::Kind::zone_temperature ||
                       name.ends_with(".element_temperature");
    hidden += tells ? 1 : 0;
    for (const char* path : {"/api/trend", "/api/trend.csv"})
      CHECK(rig.get(path, {{"signals", name}}, kWatcher).status == (tells ? 403 : 200));
    sink.texts.clear();
    page->told(boost::json::serialize(boost::json::value{{"signals", boost::json::array{name}}}));
    CHECK(sink.count("error") == (tells ? 1 : 0));
  }
  CHECK(hidden == 6);
  std::size_t listed = 0;
  const auto told = rig.get("/api/bench", {}, kWatcher).json();
  for (const auto& signal : told.at("signals").as_array()) {
    const std::string_view name(signal.at("name").as_string());
    CAPTURE(std::string(name));
    CHECK_FALSE((name.ends_with(".state") && name.starts_with("field")));
    CHECK_FALSE(name.ends_with("t.temperature"));
    CHECK_FALSE(name.ends_with(".element_temperature"));
    ++listed;
  }
  CHECK(listed == bench::all_signal_names(spec).size() - 6);
  CHECK(rig.get("/api/bench").json().at("signals").as_array().size() == listed + 6);
  const auto state = rig.get("/api/state", {}, kWatcher).json();
  for (const auto& unit : state.at("units").as_array()) CHECK(unit.at("element_temperature").is_null());
  CHECK(rig.get("/api/state").json().at("units").at(0).at("element_temperature").is_number());
  const auto csv = rig.get("/api/trend.csv", {}, kWatcher).body;
  CHECK(csv.find("front.temperature") == std::string::npos);
  CHECK(csv.find("field.state") == std::string::npos);
  CHECK(csv.find("front.measured") != std::string::npos);
}

TEST_CASE("a class keeps what it saw before the trainer made it blind") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"));
  Sink sink;
  Sink of_trainer;
  const auto page = rig.hub.connected(kWatcher, sink);
  const auto trainers = rig.hub.connected(io::Role::trainer, of_trainer);
  page->told(R"({"state":true,"journal_after":0,"signals":["front.temperature","front.measured"]})");
  trainers->told(R"({"state":true})");
  rig.act("cut field");
  rig.until([&] { return sink.count("values") > 0 && sink.last("state").is_object(); });
  CHECK(sink.last("state").at("lines").at(0).at("state").is_string());
  CHECK(rig.post("/api/blind", R"({"on":true})").status == 200);
  sink.texts.clear();
  rig.until([&] { return sink.count("values") > 0 && sink.count("state") > 0; });
  CHECK(boost::json::parse(*sink.texts.front()).at("type").as_string() == "restarted");
  CHECK(sink.last("state").at("lines").at(0).at("state").is_null());
  CHECK(sink.last("values").at("values").as_object().size() == 1);
  CHECK(of_trainer.count("restarted") == 0);
  rig.until([&] { return of_trainer.last("state").at("in_force").as_array().size() == 1; });
  CHECK(rig.post("/api/blind", R"({"on":false})").status == 200);
  sink.texts.clear();
  rig.until([&] { return sink.count("state") > 0; });
  CHECK(sink.last("state").at("lines").at(0).at("state").as_string() == "cut");
}
