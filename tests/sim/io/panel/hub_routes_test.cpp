#include "sim/io/panel/hub_routes.hpp"

#include <algorithm>
#include <set>
#include <string>
#include <utility>

#include <doctest/doctest.h>

#include "plant-models/electrical/network_result.hpp"
#include "sim/faults/action.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using test::HubRig;

namespace {

constexpr auto kWatcher = io::Role::watcher;

/// Reading the setpoint of north.
const modbus::Bytes kReadSetpoint{0x03, 0x00, 0x30, 0x00, 0x01};
const modbus::Bytes kHalf{0x06, 0x00, 0x30, 0x01, 0xF4};  // writes 50 %

const modbus::Bytes kReadCoil{0x01, 0x00, 0x00, 0x00, 0x01};
const modbus::Bytes kReadInput{0x02, 0x00, 0x00, 0x00, 0x01};

const boost::json::value& unit_of(const boost::json::value& state, std::string_view name) {
  for (const auto& unit : state.at("units").as_array())
    if (unit.at("name").as_string() == name) return unit;
  FAIL("no such unit");
  return state;
}

}  // namespace

TEST_CASE("a path that is not there is answered as if it were, or ends the hub") {
  HubRig rig(test::small_bench());
  struct Row {
    const char* method;
    const char* path;
    const char* body;
    int status;
  };
  const Row rows[] = {
      {"GET", "/api/nothing", "", 404},
      {"GET", "/api/waves/", "", 404},
      {"GET", "/api/waves/nobody", "", 404},
      {"POST", "/api/state", "", 405},
      {"GET", "/api/actions", "", 405},
      {"POST", "/api/actions", "", 400},
      {"POST", "/api/actions", "cut field", 400},
      {"POST", "/api/actions", "{}", 400},
      {"POST", "/api/actions", R"({"do":7})", 400},
      {"POST", "/api/actions", R"({"do":"cut field","at":3})", 400},
      {"POST", "/api/actions", R"({"do":"cut feild"})", 422},
      {"POST", "/api/actions", R"({"do":""})", 422},
      {"POST", "/api/blind", R"({"on":"yes"})", 400},
      {"POST", "/api/blind", "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[", 400},
      {"GET", "/api/lesson", "", 404},
      {"POST", "/api/lesson", R"({"go":"next"})", 404},
  };
  for (const auto& row : rows) {
    CAPTURE(row.method);
    CAPTURE(row.path);
    CAPTURE(row.body);
    const auto answer = rig.ask({row.method, row.path, {}, row.body, io::Role::trainer});
    CHECK(answer.status == row.status);
    CHECK_FALSE(answer.json().at("error").as_string().empty());
    CHECK(answer.body.find('\n') == std::string::npos);
  }
  // What the user typed comes back with the nearest name.
  const auto near = rig.post("/api/actions", R"({"do":"cut feild"})");
  CHECK(near.body.find("did you mean 'field'") != std::string::npos);
}

TEST_CASE("a query that makes no sense is taken for another") {
  HubRig rig(test::small_bench());
  const std::map<std::string, std::string> queries[] = {
      {{"after", "-1"}}, {{"after", "x"}}, {{"limit", "1001"}}, {{"limit", ""}}, {{"limit", "1e3"}}};
  for (const auto& query : queries)
    for (const char* path : {"/api/journal", "/api/traffic"}) CHECK(rig.get(path, query).status == 400);
  for (const char* path : {"/api/trend", "/api/trend.csv"}) {
    CHECK(rig.get(path, {{"signals", "north.nothing"}}).status == 400);
    for (const char* seconds : {"0", "-3", "1801", "many", "nan"})
      CHECK(rig.get(path, {{"signals", "north.output"}, {"seconds", seconds}}).status == 400);
  }
  CHECK(rig.get("/api/trend").status == 400);
}

TEST_CASE("the state says what it was before the last action") {
  HubRig rig(test::small_bench());
  for (int i = 0; i < 20; ++i) {
    rig.act("open south.terminal.enable");
    auto state = rig.get("/api/state").json();
    CHECK(unit_of(state, "south").at("state").as_string() == "stopped");
    CHECK_FALSE(unit_of(state, "south").at("terminals").at("enable").as_bool());
    CHECK(state.at("in_force").as_array().size() == 1);
    rig.act("release south.terminal.enable");
    state = rig.get("/api/state").json();
    CHECK(unit_of(state, "south").at("state").as_string() == "running");
    CHECK(state.at("in_force").as_array().empty());
  }
}

TEST_CASE("an action does not tell what takes it back") {
  HubRig rig(test::small_bench());
  const auto cut = rig.post("/api/actions", R"({"do":"cut field for 10 s"})").json();
  CHECK(cut.at("done").as_string() == "cut field for 10 s");
  CHECK(cut.at("undo").as_string() == "restore field only cut");
  CHECK(rig.get("/api/state").json().at("lines").at(0).at("state").as_string() == "cut");
  rig.act("restore field");
  CHECK(rig.get("/api/state").json().at("lines").at(0).at("state").as_string() == "normal");
  const auto cycle = rig.post("/api/actions", R"({"do":"cycle north.terminal.enable"})").json();
  CHECK(cycle.at("undo").is_null());
}

TEST_CASE("what a master asked, and what it got, is missing from the traffic") {
  HubRig rig(test::small_bench());
  REQUIRE(rig.ask_rtu(0, 1, kReadSetpoint).size() == 1);
  REQUIRE(rig.ask_rtu(0, 1, kHalf).size() == 1);
  CHECK(rig.ask_rtu(0, 9, kReadSetpoint).empty());
  REQUIRE(rig.ask_tcp(1, 7, 20, {0x05, 0x00, 0x00, 0x00, 0x00}).size() == 1);
  const auto traffic = rig.get("/api/traffic").json();
  const auto& frames = traffic.at("frames").as_array();
  REQUIRE(frames.size() == 7);
  CHECK(traffic.at("last") == 7);
  CHECK(frames[0].at("to_units").as_bool());
  CHECK(frames[0].at("slave").as_string() == "north");
  CHECK(frames[1].at("request") == 1);
  CHECK(frames[1].at("says").as_string() == "north answers: setpoint 0 %");
  CHECK(frames[3].at("says").as_string() == "north has set setpoint 50 %");
  CHECK(frames[4].at("trouble").as_string() == "nobody answers to id 9");
  CHECK(frames[6].at("line").as_string() == "ethernet");
  CHECK(frames[6].at("request") == 6);
  CHECK(rig.get("/api/traffic", {{"after", "5"}}).json().at("frames").as_array().size() == 2);
  CHECK(rig.get("/api/traffic", {{"limit", "1"}}).json().at("frames").at(0).at("n") == 7);

  const auto state = rig.get("/api/state").json();
  CHECK(state.at("lines").at(0).at("requests") == 3);
  CHECK(state.at("lines").at(0).at("masters").at(0).at("name").as_string() == "tester");
  CHECK(unit_of(state, "north").at("setpoint").at("register").as_double() == 0.5);
}

TEST_CASE("a request in two segments, or two in one, are no frames") {
  HubRig rig(test::small_bench());
  auto first = modbus::mbap_frame(1, 20, kReadCoil);
  const auto second = modbus::mbap_frame(2, 20, kReadInput);
  (void)rig.send(1, modbus::Bytes(first.begin(), first.begin() + 5));
  first.erase(first.begin(), first.begin() + 5);
  first.insert(first.end(), second.begin(), second.end());
  REQUIRE(rig.send(1, first).size() == 2);
  const auto frames = rig.get("/api/traffic").json().at("frames").as_array();
  REQUIRE(frames.size() == 4);
  CHECK(frames[0].at("fields").at(0).at("bytes").as_string() == "00 01");
  CHECK(frames[1].at("fields").at(0).at("bytes").as_string() == "00 02");
  CHECK(frames[2].at("request") == 1);
  CHECK(frames[3].at("request") == 2);
}

TEST_CASE("a broken frame is missing, or taken for a request") {
  HubRig rig(test::small_bench());
  auto frame = modbus::rtu_frame(1, kReadSetpoint);
  frame.back() ^= 0xFF;
  (void)rig.send(0, frame);
  rig.until([&] {  // it ends by silence
    (void)rig.send(0, {});
    return rig.get("/api/state").json().at("lines").at(0).at("broken") == 1;
  });
  const auto frames = rig.get("/api/traffic").json().at("frames").as_array();
  REQUIRE(frames.size() == 1);
  CHECK(frames[0].at("trouble").as_string() == "broken: the CRC is wrong");
  auto contradiction = modbus::mbap_frame(3, 20, kReadCoil);
  contradiction[5] = 9;
  contradiction.resize(6 + 9);
  (void)rig.send(1, contradiction);
  const auto lost = rig.get("/api/traffic").json().at("frames").as_array().back();
  CHECK(std::string_view(lost.at("trouble").as_string()).starts_with("broken: "));
}

TEST_CASE("the journal is told again, or with gaps") {
  HubRig rig(test::small_bench());
  for (int i = 0; i < 3; ++i) {
    rig.act("open north.terminal.enable");
    rig.act("release north.terminal.enable");
  }
  const auto all = rig.get("/api/journal").json();
  const auto& entries = all.at("entries").as_array();
  REQUIRE(entries.size() >= 6);
  for (std::size_t i = 0; i < entries.size(); ++i) CHECK(entries[i].at("n") == i + 1);
  CHECK(all.at("last") == entries.size());
  const auto rest = rig.get("/api/journal", {{"after", "4"}, {"limit", "2"}}).json();
  REQUIRE(rest.at("entries").as_array().size() == 2);
  CHECK(rest.at("entries").at(0).at("n") == 5);
  CHECK(rig.get("/api/journal", {{"after", "99999"}}).json().at("entries").as_array().empty());
}

TEST_CASE("a watcher does something") {
  HubRig rig(test::small_bench());
  for (const auto& route : io::hub_routes()) {
    if (!route.trainer_only) continue;
    CAPTURE(std::string(route.path));
    const auto answer = rig.ask({std::string(route.method),
                                 std::string(route.path),
                                 {},
                                 R"({"do":"cut field","on":true})",
                                 kWatcher});
    CHECK(answer.status == 403);
  }
  for (const auto& route : io::hub_routes())
    if (route.method == "POST") CHECK(route.trainer_only);
  CHECK(rig.get("/api/state").json().at("lines").at(0).at("state").as_string() == "normal");
  CHECK(rig.get("/api/bench", {}, kWatcher).json().at("actions").as_array().empty());
}

TEST_CASE("who asks of a bench that ended waits for ever") {
  HubRig rig(test::small_bench());
  CHECK(rig.get("/api/state").status == 200);
  rig.end();
  for (const char* path :
       {"/api/state", "/api/bench", "/api/journal", "/api/traffic", "/api/waves/north", "/api/review"})
    CHECK(rig.get(path).status == 503);
  CHECK(rig.post("/api/actions", R"({"do":"cut field"})").status == 503);
  rig.begin(test::small_bench());
  CHECK(rig.get("/api/state").status == 200);
  CHECK(rig.get("/api/traffic").json().at("last") == 0);
}

TEST_CASE("what was asked of a bench before it ended is never answered") {
  HubRig rig(test::small_bench());
  rig.running->stop();  // its thread does nothing any more
  int answered = 0;
  for (const char* path :
       {"/api/state", "/api/waves/north", "/api/review", "/api/traffic", "/api/capture.pcapng"})
    rig.hub.handle({"GET", path, {}, "", io::Role::trainer},
                   io::PanelReply([&](const io::PanelAnswer& answer) {
                     CHECK(answer.status == 503);
                     ++answered;
                   }));
  rig.hub.handle({"POST", "/api/actions", {}, R"({"do":"cut field"})", io::Role::trainer},
                 io::PanelReply([&](const io::PanelAnswer& answer) {
                   CHECK(answer.status == 503);
                   ++answered;
                 }));
  CHECK(answered == 0);
  rig.end();
  rig.hub.tick();
  CHECK(answered == 6);
}

TEST_CASE("the bench's description leaves something out") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"));
  const auto bench = rig.get("/api/bench").json();
  CHECK(bench.at("title").as_string() == "Tunnel dryer, two zones");
  CHECK(bench.at("version").as_string() == "1.2.3");
  CHECK(bench.at("cautions").as_array().size() == 6);
  CHECK(bench.at("lines").as_array().size() == 2);
  CHECK(bench.at("units").as_array().size() == 2);
  CHECK(bench.at("units").at(0).at("heats").as_string() == "front");
  CHECK(bench.at("units").at(0).at("contactor").as_string() == "dryer");
  CHECK(bench.at("signals").as_array().size() ==
        bench::all_signal_names(test::shipped_bench("tunnel-dryer.yaml")).size());
}

TEST_CASE("an action the bench says it can have is refused, or one it can have is not said") {
  const auto spec = test::shipped_bench("cure-oven.yaml");
  HubRig rig(spec);
  const auto bench = rig.get("/api/bench").json();
  std::set<std::string> told;
  for (const auto& action : bench.at("actions").as_array()) {
    told.emplace(std::string_view(action.at("word").as_string()));
    for (const auto& target : action.at("targets").as_array())
      CHECK(faults::name_action(spec, std::string_view(action.at("word").as_string()),
                                std::string_view(target.as_string())));
  }
  for (const auto* kind : faults::all_actions()) {
    CAPTURE(std::string(kind->word));
    if (!told.contains(std::string(kind->word)))
      MESSAGE("no target on this bench for ", std::string(kind->word));
  }
  CHECK(told.contains("cut"));
  CHECK(told.contains("thyristor_shorted"));
  CHECK(told.contains("mend"));
}

TEST_CASE("the drawn cycle has no samples, or is drawn for each who asks") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"));
  const auto waves = rig.get("/api/waves/front-heater").json();
  CHECK(waves.at("unit").as_string() == "front-heater");
  CHECK(waves.at("phases").as_array().size() == 3);
  CHECK(waves.at("phases").at(0).at("voltage").as_array().size() == plant::Waves::kSamples);
  CHECK(waves.at("frequency").to_number<double>() == 50.0);
  const auto again = rig.get("/api/waves/front-heater");
  CHECK(again.json().at("at") == waves.at("at"));  // no tick in between: the same one
}

TEST_CASE("downloads are not what was asked for") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"));
  rig.until([&] {
    return rig.get("/api/trend", {{"signals", "front.temperature"}}).json().at("at").as_array().size() >= 3;
  });
  const auto csv = rig.get("/api/trend.csv", {{"signals", "front.temperature,front-heater.state"}});
  CHECK(csv.status == 200);
  CHECK(csv.file_name == "trend.csv");
  CHECK(csv.body.starts_with("time_s,front.temperature degC,front-heater.state\r\n"));
  CHECK(csv.body.ends_with(",stopped\r\n"));
  const auto all = rig.get("/api/trend.csv");
  const auto columns =
      std::count(all.body.begin(), all.body.begin() + static_cast<std::ptrdiff_t>(all.body.find('\r')), ',');
  CHECK(static_cast<std::size_t>(columns) ==
        bench::all_signal_names(test::shipped_bench("tunnel-dryer.yaml")).size());

  REQUIRE(rig.ask_rtu(0, 5, kReadSetpoint).size() == 1);
  const auto capture = rig.get("/api/capture.pcapng");
  CHECK(capture.file_name == "capture.pcapng");
  // A section header begins the file (IETF draft-ietf-opsawg-pcapng, 4.1); both frames are in it.
  CHECK(capture.body.starts_with("\x0A\x0D\x0D\x0A"));
  const auto frame = modbus::rtu_frame(5, kReadSetpoint);
  CHECK(capture.body.find(std::string(frame.begin(), frame.end())) != std::string::npos);
}

TEST_CASE("many who want a file at once keep the panel from everything else") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"));
  rig.until([&] {
    return rig.get("/api/trend", {{"signals", "front.temperature"}}).json().at("at").as_array().size() >= 2;
  });
  std::vector<int> of_class;
  int of_trainer = 0;
  const auto ask = [&](const char* path, io::Role role, auto keep) {
    rig.hub.handle({"GET", path, {{"seconds", "1800"}}, "", role}, io::PanelReply(keep));
  };
  const auto keep = [&](const io::PanelAnswer& answer) { of_class.push_back(answer.status); };
  for (int i = 0; i < 6; ++i) {
    ask("/api/trend.csv", kWatcher, keep);
    ask("/api/capture.pcapng", kWatcher, keep);
  }
  // One is being made, which takes ticks; the others may come again.
  CHECK(of_class == std::vector<int>(11, 503));
  // The trainer comes first.
  ask("/api/trend.csv", io::Role::trainer,
      [&](const io::PanelAnswer& answer) { of_trainer = answer.status; });
  CHECK(of_class == std::vector<int>(12, 503));
  ask("/api/capture.pcapng", io::Role::trainer, keep);
  CHECK(of_class == std::vector<int>(13, 503));
  CHECK(of_trainer == 0);
  rig.until([&] { return of_trainer != 0; });
  CHECK(of_trainer == 200);
  CHECK(rig.get("/api/trend.csv", {}, kWatcher).status == 200);
  // The one that was being made when the bench ended is answered too.
  ask("/api/trend.csv", kWatcher, keep);
  rig.end();
  rig.hub.tick();
  CHECK(of_class == std::vector<int>(14, 503));
}

TEST_CASE("a capture that takes several ticks lacks frames") {
  HubRig rig(test::small_bench());
  for (int i = 0; i < 1300; ++i) REQUIRE(rig.ask_rtu(0, 1, kReadSetpoint).size() == 1);
  const auto capture = rig.get("/api/capture.pcapng").body;
  const auto frame = modbus::rtu_frame(1, kReadSetpoint);
  const std::string asked(frame.begin(), frame.end());
  int found = 0;
  for (auto at = capture.find(asked); at != std::string::npos; at = capture.find(asked, at + 1)) ++found;
  CHECK(found == 1300);
}

TEST_CASE("the review is not the one that is told elsewhere") {
  HubRig rig(test::small_bench());
  (void)rig.ask_rtu(0, 1, kReadSetpoint);
  const auto lines = rig.get("/api/review").json().at("lines").as_array();
  REQUIRE_FALSE(lines.empty());
  CHECK(std::string_view(lines[0].as_string()).find("field") != std::string_view::npos);
}
