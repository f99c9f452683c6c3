#include <fstream>
#include <iterator>
#include <set>
#include <string>
#include <utility>

#include <doctest/doctest.h>

#include "sim/io/panel/hub_routes.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using test::HubRig;

namespace {

using Routes = std::set<std::pair<std::string, std::string>>;

const boost::json::value& description() {
  static const boost::json::value value = [] {
    std::ifstream file(EMBERLINE_SOURCE_DIR "/sim/io/panel/openapi.json");
    return boost::json::parse(std::string(std::istreambuf_iterator<char>(file), {}));
  }();
  return value;
}

/// Method and path of all that is described: what the hub answers, or what the server answers itself.
Routes described(bool by_server) {
  Routes routes;
  for (const auto& path : description().at("paths").as_object())
    for (const auto& method : path.value().as_object()) {
      const bool servers = method.value().as_object().contains("x-answered-by");
      std::string word(method.key());
      for (auto& letter : word) letter = static_cast<char>(std::toupper(letter));
      if (servers == by_server) routes.emplace(word, std::string(path.key()));
    }
  return routes;
}

}  // namespace

TEST_CASE("a route is not described, or a description has no route") {
  Routes answered;
  for (const auto& route : io::hub_routes()) answered.emplace(route.method, route.path);
  CHECK(answered == described(false));
  CHECK(described(true) == Routes{{"GET", "/"},
                                  {"GET", "/class"},
                                  {"GET", "/healthz"},
                                  {"GET", "/api/live"},
                                  {"GET", "/api/session"},
                                  {"POST", "/api/session"}});
}

TEST_CASE("a path that is described is not answered") {
  HubRig rig(test::small_bench());
  for (const auto& [method, described_path] : described(false)) {
    auto path = described_path;
    if (const auto name = path.find('{'); name != std::string::npos) path = path.substr(0, name) + "north";
    CAPTURE(method);
    CAPTURE(path);
    const auto answer = rig.ask({method, path, {{"signals", "north.output"}}, "{}", io::Role::trainer});
    const bool lesson = path == "/api/lesson";
    CHECK(answer.status == (lesson ? 404 : method == "GET" ? 200 : 400));
    // And its status is one that the description has.
    std::string lower = method == "GET" ? "get" : "post";
    const auto& responses =
        description().at("paths").at(described_path).at(lower).at("responses").as_object();
    CHECK(responses.contains(std::to_string(answer.status)));
    if (answer.status != 200) continue;
    const auto& content = responses.at("200").as_object().at("content").as_object();
    CHECK(answer.type.starts_with(std::string_view(content.begin()->key())));
  }
}

TEST_CASE("the description is not the one that is served") {
  HubRig rig(test::small_bench());
  CHECK(rig.get("/api/openapi.json").json() == description());
  CHECK(description().at("openapi").as_string() == "3.1.0");
}
