#include "sim/io/panel/access.hpp"

#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "sim/io/panel/access_strangers.hpp"
#include "sim/io/panel/http_text.hpp"
#include "sim/io/panel/panel_limits.hpp"
#include "sim/io/panel/session_id.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

constexpr const char* kTrainer = "trainer-token-0123456789";
constexpr const char* kWatcher = "watcher-token-0123456789";

io::PanelAddress address() {
  io::PanelAddress address;
  address.host = "192.0.2.7";
  address.names = {"Oven.example"};
  address.trainer_token = kTrainer;
  address.watcher_token = kWatcher;
  return address;
}

io::Visit visit(const std::string& host = "127.0.0.1:8710") {
  io::Visit visit;
  visit.method = "GET";
  visit.path = "/api/state";
  visit.arrived_at = "198.51.100.4";
  visit.host = host;
  return visit;
}

int status(const std::optional<io::Refusal>& refusal) { return refusal ? refusal->status : 200; }

io::Access::Instant at(std::chrono::milliseconds time) { return io::Access::Instant{} + 1h + time; }

}  // namespace

TEST_CASE("a name that was rebound to our address opens nothing") {
  // RFC 9110, 7.2: a Host header is uri-host [ ":" port ]; RFC 3986, 3.2.2 for the host.
  struct Row {
    const char* host;
    int status;
  };
  const Row rows[] = {
      {"127.0.0.1:8710", 200},
      {"127.0.0.1", 200},
      {"127.9.9.9:1", 200},
      {"localhost:8710", 200},
      {"LocalHost", 200},
      {"[::1]:8710", 200},
      {"192.0.2.7:8710", 200},
      {"oven.example:80", 200},
      {"OVEN.EXAMPLE", 200},
      {"198.51.100.4:8710", 200},
      {"rebound.example", 403},
      {"rebound.example:8710", 403},
      {"127.0.0.1.example", 403},
      {"127.example", 403},
      {"localhost.example", 403},
      {"oven.example.evil", 403},
      {"192.0.2.8", 403},
      {"[::2]", 403},
      {"", 400},
      {":8710", 400},
      {"127.0.0.1:x", 400},
      {"[::1", 400},
      {"a@127.0.0.1", 400},
      {"127.0.0.1 x", 400},
      {"127.0.0.1:8710:8710", 400},
      {"127.0.0.1,evil", 400},
      {"[::1]x", 400},
  };
  const io::Access access(address(), 8710);
  for (const auto& row : rows) {
    CAPTURE(std::string(row.host));
    CHECK(status(access.refused(visit(row.host))) == row.status);
  }
}

TEST_CASE("a page of another site reaches nothing of the bench") {
  // RFC 6454, 7 (Origin); W3C Fetch Metadata, 2.3 (Sec-Fetch-Site).
  struct Row {
    const char* what;
    const char* path;
    const char* origin;
    const char* site;
    int status;
  };
  const Row rows[] = {
      {"a program", "/api/state", nullptr, nullptr, 200},
      {"our page", "/api/state", "http://127.0.0.1:8710", "same-origin", 200},
      {"our page behind a proxy", "/api/state", "https://127.0.0.1:8710", "same-origin", 200},
      {"typed into the browser", "/api/state", nullptr, "none", 200},
      {"another site", "/api/state", "http://evil.example", "cross-site", 403},
      {"another port of this machine", "/api/state", "http://127.0.0.1:9999", "same-site", 403},
      {"another name of this machine", "/api/live", "http://localhost:8710", "same-site", 403},
      {"a file or a frame without rights", "/api/live", "null", nullptr, 403},
      {"an image of another site", "/api/state", nullptr, "cross-site", 403},
      {"metrics from another port", "/metrics", nullptr, "same-site", 403},
      {"a link to our page from elsewhere", "/", nullptr, "cross-site", 200},
      {"our page's file asked by a script from elsewhere", "/main.js", "http://evil.example", "cross-site",
       403},
  };
  const io::Access access(address(), 8710);
  for (const auto& row : rows) {
    CAPTURE(std::string(row.what));
    auto asked = visit();
    asked.path = row.path;
    if (row.origin != nullptr) asked.origin = row.origin;
    if (row.site != nullptr) asked.fetch_site = row.site;
    CHECK(status(access.refused(asked)) == row.status);
  }
}

TEST_CASE("a form of another site cannot be taken for JSON, and no method but three is known") {
  // WHATWG Fetch, "CORS-safelisted request-header": only these three types may be sent across sites unasked.
  const io::Access access(address(), 8710);
  const auto posted = [&access](const char* type) {
    auto asked = visit();
    asked.method = "POST";
    asked.content_type = type;
    return status(access.refused(asked));
  };
  for (const char* type :
       {"text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "", "application/jsonx"})
    CHECK_MESSAGE(posted(type) == 415, type);
  for (const char* type : {"application/json", "Application/JSON; charset=utf-8", " application/json "})
    CHECK_MESSAGE(posted(type) == 200, type);
  for (const char* method : {"PUT", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PATCH", "get", ""}) {
    auto asked = visit();
    asked.method = method;
    CHECK_MESSAGE(status(access.refused(asked)) == 405, method);
  }
}

TEST_CASE("only this machine's own addresses count as such") {
  for (const char* host : {"localhost", "LOCALHOST", "127.0.0.1", "127.255.0.3", "::1", "[::1]"})
    CHECK_MESSAGE(io::is_loopback(host), host);
  for (const char* host : {"", "0.0.0.0", "::", "192.0.2.7", "127.example", "127.0.0.1.example", "localhost.",
                           "128.0.0.1", "::ffff:192.0.2.7"})
    CHECK_MESSAGE(!io::is_loopback(host), host);
}

TEST_CASE("a token is compared whole, and an empty one is nobody's") {
  CHECK(io::same_token("abc", "abc"));
  for (const char* wrong : {"", "ab", "abcd", "abcabc", "abd", "Abc", "xbc"})
    CHECK(!io::same_token(wrong, "abc"));
  CHECK(!io::same_token("", ""));
  CHECK(!io::same_token("abc", ""));
}

TEST_CASE("who asks is told by token or session, and a watcher may only look") {
  io::Access access(address(), 8710);
  const auto session = [&access](const std::string& token) {
    const auto begun = access.begin_session(R"({"token":")" + token + "\"}", at(0ms));
    REQUIRE(begun);
    // RFC 6265, 4.1.2; no script may read it, and no other site's page has it sent along.
    CHECK(begun->find("; HttpOnly") != std::string::npos);
    CHECK(begun->find("; SameSite=Strict") != std::string::npos);
    return begun->substr(0, begun->find(';'));
  };
  const auto trainer = session(kTrainer);
  const auto watcher = session(kWatcher);
  struct Row {
    const char* what;
    std::string authorization, cookie;
    bool as_class;
    const char* method;
    int status;
    io::Role role;
  };
  const auto bearer = [](const char* token) { return std::string("Bearer ") + token; };
  const Row rows[] = {
      {"nothing shown", "", "", false, "GET", 401, {}},
      {"trainer's token", bearer(kTrainer), "", false, "POST", 200, io::Role::trainer},
      {"the scheme's case does not matter", "bearer " + std::string(kTrainer), "", false, "GET", 200,
       io::Role::trainer},
      {"class's token", bearer(kWatcher), "", false, "GET", 200, io::Role::watcher},
      {"class's token does something", bearer(kWatcher), "", false, "POST", 403, {}},
      {"wrong token", bearer("trainer-token-012345678X"), "", false, "GET", 401, {}},
      {"wrong token beside a good session", bearer("wrong"), trainer, false, "GET", 401, {}},
      {"another scheme", "Basic " + std::string(kTrainer), "", false, "GET", 401, {}},
      {"trainer's session", "", trainer, false, "POST", 200, io::Role::trainer},
      {"among other cookies", "", "a=b; " + trainer + "; c=d", false, "GET", 200, io::Role::trainer},
      {"class's session", "", watcher, false, "GET", 200, io::Role::watcher},
      {"a session nobody began",
       "",
       "emberline_8710=00000000000000000000000000000000",
       false,
       "GET",
       401,
       {}},
      {"the token as cookie", "", "emberline_8710=" + std::string(kTrainer), false, "GET", 401, {}},
      {"an empty session", "", "emberline_8710=", false, "GET", 401, {}},
      {"another panel's session", "", "emberline_9" + trainer.substr(11), false, "GET", 401, {}},
      {"trainer looks as the class", bearer(kTrainer), "", true, "GET", 200, io::Role::watcher},
      {"trainer acts as the class", bearer(kTrainer), "", true, "POST", 403, {}},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.what));
    auto asked = visit();
    asked.method = row.method;
    asked.authorization = row.authorization;
    asked.cookie = row.cookie;
    asked.as_class = row.as_class;
    const auto role = access.role_of(asked, at(1h));
    REQUIRE((role ? 200 : role.error().status) == row.status);
    if (role) CHECK(*role == row.role);
  }
}

TEST_CASE("without a token file everybody here is the trainer, and needs no session") {
  io::Access access(io::PanelAddress{}, 8710);
  CHECK(!access.token_needed());
  CHECK(*access.role_of(visit(), at(0ms)) == io::Role::trainer);
  CHECK(*access.begin_session("{}", at(0ms)) == "");
}

TEST_CASE("whoever guesses tokens is slowed down, and locks out nobody who has the right one") {
  io::Access access(address(), 8710);
  const auto tried = [&access](const char* token, std::chrono::milliseconds when) {
    const auto begun = access.begin_session(std::string(R"({"token":")") + token + "\"}", at(when));
    return begun ? 204 : begun.error().status;
  };
  for (int i = 0; i < 5; ++i) CHECK(tried("wrong-token-0123456789", 0ms) == 401);
  CHECK(tried("wrong-token-0123456789", 0ms) == 429);
  CHECK(tried(kTrainer, 0ms) == 204);
  CHECK(tried(kWatcher, 0ms) == 204);
  auto asked = visit();
  asked.authorization = "Bearer " + std::string(kTrainer);
  CHECK(access.role_of(asked, at(0ms)));
  CHECK(tried("wrong-token-0123456789", 0ms) == 429);
  for (int i = 0; i < 20; ++i) CHECK(tried(kTrainer, 250ms) == 204);  // right ones are not counted
  CHECK(tried("wrong-token-0123456789", 250ms) == 401);
  CHECK(tried("wrong-token-0123456789", 250ms) == 429);
}

TEST_CASE("a body that asks for a session in other words gets one line, whatever it is") {
  io::Access access(address(), 8710);
  for (const char* body :
       {"", "{", "[]", "\"token\"", R"({"token":1})", R"({"token":null})", R"({"tokens":"x"})", "\xFF\xFE",
        "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[["}) {
    const auto begun = access.begin_session(body, at(0ms));
    REQUIRE(!begun);
    CHECK(begun.error().status == 400);
    CHECK(begun.error().error.find('\n') == std::string::npos);
  }
}

TEST_CASE("sessions are of 128 bits, differ, and the oldest of the same role goes when there are too many") {
  const auto one = io::new_session_id();
  CHECK(one.size() == 32);
  CHECK(one.find_first_not_of("0123456789abcdef") == std::string::npos);
  CHECK(one != io::new_session_id());

  io::Access access(address(), 8710);
  const auto begin = [&access](const char* token) {
    const auto cookie = *access.begin_session(std::string(R"({"token":")") + token + "\"}", at(0ms));
    return cookie.substr(0, cookie.find(';'));
  };
  const auto known = [&access](const std::string& cookie) {
    auto asked = visit();
    asked.cookie = cookie;
    return access.role_of(asked, at(0ms)).has_value();
  };
  const auto trainer = begin(kTrainer);
  const auto first = begin(kWatcher);
  auto last = first;
  for (std::size_t i = 1; i < io::kMostSessions; ++i) last = begin(kWatcher);
  CHECK(known(first));
  last = begin(kWatcher);
  CHECK(!known(first));
  CHECK(known(last));
  CHECK(known(trainer));  // whom the class cannot log out
  for (std::size_t i = 1; i < io::kMostSessions; ++i) begin(kTrainer);
  CHECK(known(trainer));
  begin(kTrainer);
  CHECK(!known(trainer));
  CHECK(known(last));
}

TEST_CASE("whether a visit is known is told without counting it as a try") {
  io::Access access(address(), 8710);
  const auto shown = [](const std::string& authorization) {
    auto asked = visit();
    asked.path = "/healthz";
    asked.authorization = authorization;
    return asked;
  };
  CHECK(access.is_known(shown("Bearer " + std::string(kTrainer))));
  CHECK(access.is_known(shown("Bearer " + std::string(kWatcher))));
  CHECK(!access.is_known(shown("")));
  for (int i = 0; i < 20; ++i) CHECK(!access.is_known(shown("Bearer wrong-token-0123456789")));
  CHECK(access.role_of(shown("Bearer wrong-token-0123456789"), at(0ms)).error().status == 401);
  CHECK(io::Access(io::PanelAddress{}, 8710).is_known(shown("")));
}

TEST_CASE("no other machine can hold all connections before it has shown a token") {
  const std::string here = "127.0.0.1";
  const std::string there = "192.0.2.9";
  io::Strangers strangers;
  std::size_t all = 0;
  for (; strangers.room_for(there, all); ++all) strangers.came(there);
  CHECK(all == io::kMostStrangers);
  CHECK(strangers.room_for("192.0.2.10", all));
  strangers.left(there);
  CHECK(strangers.room_for(there, all));
  CHECK(strangers.room_for("192.0.2.10", io::kMostConnections - io::kKeptForThisMachine - 1));
  // Many machines together leave room for this one's own.
  CHECK(!strangers.room_for("192.0.2.10", io::kMostConnections - io::kKeptForThisMachine));
  CHECK(strangers.room_for(here, io::kMostConnections - io::kKeptForThisMachine));
  for (int i = 0; i < 100; ++i) strangers.came(here);
  CHECK(strangers.room_for(here, io::kMostConnections - 1));
  CHECK(!strangers.room_for(here, io::kMostConnections));
  strangers.left("203.0.113.1");  // never there
}

TEST_CASE("a machine with a network of addresses counts as one") {
  // RFC 4291, 2.5.4: the last 64 bits are the interface's; 2.5.5.2: IPv4 mapped; RFC 4007, 11: zones.
  CHECK(io::network_of("192.0.2.9") == "192.0.2.9");
  CHECK(io::network_of("::ffff:192.0.2.9") == "192.0.2.9");
  CHECK(io::network_of("::1") == "::1");
  CHECK(io::network_of("2001:db8:1:2:3:4:5:6") == "2001:db8:1:2::/64");
  CHECK(io::network_of("2001:db8:1:2::9") == "2001:db8:1:2::/64");
  CHECK(io::network_of("2001:db8:1:3::9") == "2001:db8:1:3::/64");
  CHECK(io::network_of("fe80::7%eth0") == "fe80::/64");
}

TEST_CASE("a path is written in one way only, and leads nowhere else") {
  struct Row {
    std::string target;
    int status;
    std::string path;
  };
  const Row rows[] = {
      {"/", 200, "/"},
      {"/api/%ff", 400, ""},
      {"/api/%C3", 400, ""},
      {"/api/%ED%A0%80", 400, ""},  // a surrogate, RFC 3629, 3
      {"/api/trend?signals=%ff", 400, ""},
      {"/api/trend?%C0%AF=a", 400, ""},
      {"/api/trend?signals=\xFF", 400, ""},
      {"/api/trend?signals=%C3%96fen", 200, "/api/trend"},
      {"/api/waves/soak-heater", 200, "/api/waves/soak-heater"},
      {"/api/waves/%C3%96fen", 200,
       "/api/waves/\xC3\x96"
       "fen"},  // RFC 3986, 2.5: other scripts as UTF-8
      {"/../etc/passwd", 404, ""},
      {"/..", 404, ""},
      {"/a/../../etc/passwd", 404, ""},
      {"/%2e%2e/etc/passwd", 404, ""},
      {"/%2E%2E%2Fetc%2Fpasswd", 404, ""},
      {"/..%2fetc/passwd", 404, ""},
      {"/%252e%252e/x", 404, ""},
      {"/..%c0%af..%c0%afetc/passwd", 404, ""},  // an overlong '/', RFC 3629, 10
      {"/%61pi/state", 404, ""},
      {"/a%00b", 404, ""},
      {"/a%2", 404, ""},
      {"/%", 404, ""},
      {"//", 404, ""},
      {"//evil.example/", 404, ""},
      {"/api//state", 404, ""},
      {"/.git/config", 404, ""},
      {"/a\\..\\b", 404, ""},
      {"/C:/Windows", 404, ""},
      {"/a;b", 404, ""},
      {"index.html", 404, ""},
      {"", 404, ""},
      {"*", 404, ""},
      {"http://127.0.0.1/", 404, ""},
      {"/" + std::string(io::kLongestTarget - 1, 'a'), 200, "/" + std::string(io::kLongestTarget - 1, 'a')},
      {"/" + std::string(io::kLongestTarget, 'a'), 414, ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.target);
    const auto target = io::parse_target(row.target);
    REQUIRE((target ? 200 : target.error().status) == row.status);
    if (target) CHECK(target->path == row.path);
    if (row.status == 400) CHECK(target.error().error.find("expected UTF-8") != std::string::npos);
  }
}

TEST_CASE("a query is decoded once, and what is none is refused") {
  const auto target = io::parse_target("/api/trend?signals=a%2Cb,c&seconds=300&empty=&flag&text=a+b%2Bc%25");
  REQUIRE(target);
  CHECK(target->query ==
        std::map<std::string, std::string>{
            {"signals", "a,b,c"}, {"seconds", "300"}, {"empty", ""}, {"flag", ""}, {"text", "a b+c%"}});
  std::string many = "/?a=1";
  for (int i = 0; i < 20; ++i) many += "&k" + std::to_string(i) + "=1";
  for (const std::string& bad :
       {std::string("/?a=%"), std::string("/?a=%4"), std::string("/?a=%zz"), std::string("/?=1"),
        std::string("/?a=1&a=2"), std::string("/?a=%00"), std::string("/?a=%0A"), many}) {
    CAPTURE(bad);
    const auto refused = io::parse_target(bad);
    REQUIRE(!refused);
    CHECK(refused.error().status == 400);
  }
}

TEST_CASE("a file's name cannot break out of its header") {
  io::AnswerHead head;
  head.file_name = "a\"b\r\nX: y\\\xC3\xA4.csv";
  const auto text = io::to_text(head);
  CHECK(text.find("filename=\"a_b__X: y___.csv\"\r\n") != std::string::npos);
}
