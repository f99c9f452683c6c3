#include <fstream>
#include <iterator>
#include <map>
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

TEST_CASE("an answer that a route can give is not described, or one is that it cannot") {
  // Before any route: what is no request (400), from elsewhere (403), too slow (408), too long (413, 414,
  // 431), or one too many (503). RFC 9110, 15.5, and RFC 6585 for 429 and 431.
  const std::set<std::string> always{"400", "403", "408", "413", "414", "431", "503"};
  const std::set<std::string> token{"401", "429"};
  const std::map<std::pair<std::string, std::string>, std::set<std::string>> own{
      {{"GET", "/api/openapi.json"}, {"404"}},  // a program built without it
      {{"GET", "/api/waves/{unit}"}, {"404"}},   {{"GET", "/api/lesson"}, {"404"}},
      {{"POST", "/api/lesson"}, {"404", "422"}}, {{"POST", "/api/actions"}, {"422"}},
      {{"GET", "/api/live"}, {"426"}},
  };
  auto routes = described(false);
  routes.merge(described(true));
  for (const auto& route : routes) {
    const auto& [method, path] = route;
    CAPTURE(method);
    CAPTURE(path);
    std::set<std::string> expected = always;
    const bool of_bench = path.starts_with("/api/") || path == "/metrics";
    if ((of_bench && path != "/api/session") || method == "POST") expected.insert(token.begin(), token.end());
    if (method == "POST") expected.insert("415");
    if (const auto more = own.find(route); more != own.end())
      expected.insert(more->second.begin(), more->second.end());
    std::set<std::string> told;
    const auto& operation = description().at("paths").at(path).at(method == "GET" ? "get" : "post");
    for (const auto& response : operation.at("responses").as_object()) {
      const std::string status(response.key());
      if (status < "400") continue;
      told.insert(status);
      // Each refers to one that is there.
      const std::string_view target(response.value().at("$ref").as_string());
      CHECK(description()
                .at("components")
                .at("responses")
                .as_object()
                .contains(target.substr(target.rfind('/') + 1)));
    }
    CHECK(told == expected);
  }
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
