#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/panel/panel_limits.hpp"
#include "tests/sim/io/panel/fake_site.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using test::get;
using test::Got;
using test::handshake;
using test::post;
using test::Served;

namespace {

std::string bearer(const std::string& token) { return "Authorization: Bearer " + token + "\r\n"; }

}  // namespace

TEST_CASE("the page's files come with their types, and every answer with what protects it") {
  const Served served;
  struct Row {
    const char* path;
    int status;
    const char* type;
  };
  const Row rows[] = {
      {"/", 200, "text/html; charset=utf-8"},
      {"/class", 200, "text/html; charset=utf-8"},
      {"/index.html", 200, "text/html; charset=utf-8"},
      {"/main.js", 200, "text/javascript; charset=utf-8"},
      {"/icon.svg", 200, "image/svg+xml"},
      {"/healthz", 200, "text/plain; charset=utf-8"},
      {"/api/anything", 200, "application/json"},
      {"/api/session", 200, "application/json"},
      {"/nothing.js", 404, "application/json"},
      {"/api/live", 426, "application/json"},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.path));
    const auto got = served.ask(get(row.path));
    CHECK(got.status == row.status);
    CHECK(got.field("Content-Type") == row.type);
    CHECK(got.field("Content-Security-Policy").find("default-src 'self'") != std::string::npos);
    CHECK(got.field("Content-Security-Policy").find("frame-ancestors 'none'") != std::string::npos);
    CHECK(got.field("X-Content-Type-Options") == "nosniff");
    CHECK(got.field("Referrer-Policy") == "no-referrer");
    CHECK(got.field("Cache-Control") == "no-store");
    CHECK(got.field("Server") == "emberline");
    CHECK(got.head.find("Access-Control") == std::string::npos);
    if (row.status != 200) CHECK(got.body.starts_with("{\"error\":\""));
  }
}

TEST_CASE("requests follow each other on one connection, and HEAD gets no body") {
  const Served served;
  auto visitor = served.visitor();
  CHECK(visitor.ask(get("/healthz")).body == "ok\n");
  visitor.send("HEAD /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n");
  const auto head = visitor.answer(false);
  CHECK(head.status == 200);
  CHECK(head.field("Content-Length") == "3");
  CHECK(visitor.ask(get("/healthz")).body == "ok\n");
  visitor.send(get("/api/one") + get("/api/two"));
  CHECK(visitor.answer().body == "GET /api/one trainer ");
  CHECK(visitor.answer().body == "GET /api/two trainer ");
  const auto last = visitor.ask(get("/healthz", "Connection: close\r\n"));
  CHECK(last.field("Connection") == "close");
  CHECK(visitor.ended());
  const auto old = served.ask("GET /healthz HTTP/1.0\r\nHost: localhost\r\n\r\n");  // RFC 9112, 9.3
  CHECK(old.status == 200);
  CHECK(old.field("Connection") == "close");
}

TEST_CASE("the site is asked with path, query and body decoded, and its answer arrives whole") {
  const Served served;
  CHECK(served.ask(get("/api/trend?signals=a%2Cb&seconds=300")).body ==
        "GET /api/trend trainer seconds=300 signals=a,b ");
  CHECK(served.ask(get("/metrics")).body == "GET /metrics trainer ");
  CHECK(served.ask(post("/api/actions", R"({"do":"cut field"})")).body ==
        R"(POST /api/actions trainer {"do":"cut field"})");
  CHECK(served
            .ask("POST /api/actions HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
                 "Transfer-Encoding: chunked\r\n\r\n3\r\n{\"a\r\n4\r\n\":1}\r\n0\r\n\r\n")
            .body == R"(POST /api/actions trainer {"a":1})");
  CHECK(served.ask(get("/api/big")).body == std::string(8'000'000, 'x'));
  const auto file = served.ask(get("/api/file"));
  CHECK(file.field("Content-Type") == "text/csv");
  CHECK(file.field("Content-Disposition") == "attachment; filename=\"tre_nd.csv\"");
  CHECK(served.ask(get("/api/later")).body == "later");  // from a thread of its own
}

TEST_CASE("a site that does not answer, or fails, costs one request and not the server") {
  io::PanelPatience patience;
  patience.site = 50ms;
  const Served served(test::here(), patience);
  for (const char* path : {"/api/dropped", "/api/thrown", "/api/silent"}) {
    CAPTURE(std::string(path));
    const auto got = served.ask(get(path));
    CHECK(got.status == 503);
    CHECK(got.body.starts_with("{\"error\":\""));
    CHECK(served.serves());
  }
}

TEST_CASE("a token opens the interface, as header or as session, and the class's token only shows") {
  const Served served(test::with_tokens());
  CHECK(served.ask(get("/")).status == 200);  // the page itself, which asks for the token
  CHECK(served.ask(get("/api/session")).body == R"({"role":null,"token_needed":true})");
  const auto refused = served.ask(get("/api/state"));
  CHECK(refused.status == 401);
  CHECK(refused.field("WWW-Authenticate") == "Bearer");
  CHECK(served.ask(get("/metrics")).status == 401);
  CHECK(served.ask(handshake()).status == 401);
  CHECK(served.site.handled == 0);

  CHECK(served.ask(get("/api/state", bearer(test::kTrainerToken))).body == "GET /api/state trainer ");
  CHECK(served.ask(get("/api/state", bearer(test::kWatcherToken))).body == "GET /api/state watcher ");
  CHECK(served.ask(get("/api/state?view=class", bearer(test::kTrainerToken))).body ==
        "GET /api/state watcher view=class ");
  CHECK(served.ask(post("/api/actions", "{}", bearer(test::kWatcherToken))).status == 403);
  CHECK(served.ask(post("/api/actions?view=class", "{}", bearer(test::kTrainerToken))).status == 403);
  CHECK(served.ask(get("/api/state?token=" + std::string(test::kTrainerToken))).status == 401);

  const auto begun =
      served.ask(post("/api/session", R"({"token":")" + std::string(test::kTrainerToken) + "\"}"));
  CHECK(begun.status == 204);
  const auto cookie = begun.field("Set-Cookie");
  REQUIRE(cookie.find("; Path=/; HttpOnly; SameSite=Strict") != std::string::npos);
  const auto shown = "Cookie: theme=dark; " + cookie.substr(0, cookie.find(';')) + "\r\n";
  CHECK(served.ask(get("/api/session", shown)).body == R"({"role":"trainer","token_needed":true})");
  CHECK(served.ask(get("/api/session?view=class", shown)).body ==
        R"({"role":"watcher","token_needed":true})");
  CHECK(served.ask(post("/api/actions", "{}", shown)).status == 200);
  auto page = served.visitor();
  CHECK(page.ask(handshake("/api/live?view=class", shown)).status == 101);
  CHECK(page.hear()->payload == "hello watcher");
}

TEST_CASE("without a token file everybody on this machine is the trainer") {
  const Served served;
  CHECK(served.ask(get("/api/session")).body == R"({"role":"trainer","token_needed":false})");
  CHECK(served.ask(get("/api/state?view=class")).body == "GET /api/state watcher view=class ");
}

TEST_CASE("a live page is greeted, heard, and gone when it goes") {
  Served served;
  std::optional<test::Visitor> connected(served.visitor());
  auto& page = *connected;
  const auto accepted = page.ask(handshake());
  CHECK(accepted.status == 101);
  CHECK(accepted.field("Sec-WebSocket-Accept") == "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=");  // RFC 6455, 1.3
  CHECK(accepted.head.find("Sec-WebSocket-Extensions") == std::string::npos);
  CHECK(page.hear()->payload == "hello trainer");
  page.say("one");
  CHECK(page.hear()->payload == "you said one");
  page.say("tw", 1, false);  // in two fragments
  page.say("o", 0, true);
  CHECK(page.hear()->payload == "you said two");
  page.say("are you there", 9);
  const auto pong = page.hear();
  CHECK(pong->opcode == 10);
  CHECK(pong->payload == "are you there");
  CHECK(served.server().statistics().live_pages == 1);
  page.say(std::string("\x03\xE8", 2), 8);  // 1000: goes as agreed
  CHECK(page.hear()->code() == 1000);
  connected.reset();
  served.until([](const auto& counted) { return counted.live_pages == 0 && counted.connections == 0; });
  CHECK(served.site.pages == 0);
  {
    auto rude = served.visitor();
    REQUIRE(rude.ask(handshake()).status == 101);
    rude.hear();
    CHECK(served.site.pages == 1);
  }
  served.until([](const auto& counted) { return counted.live_pages == 0; });
  CHECK(served.site.pages == 0);
}

TEST_CASE("a page that fetches nothing holds up nobody and takes no memory") {
  Served served;
  auto sleepy = served.visitor();
  REQUIRE(sleepy.ask(handshake()).status == 101);
  sleepy.say("flood");
  auto awake = served.visitor();
  REQUIRE(awake.ask(handshake()).status == 101);
  CHECK(awake.hear()->payload == "hello trainer");
  served.until([](const auto& counted) { return counted.held_back > 100; });
  awake.say("still here");
  CHECK(awake.hear()->payload == "you said still here");
  CHECK(static_cast<std::uint64_t>(served.site.refused_texts) >= 100);
  // What is kept for it does not grow, however much there is that it does not fetch.
  for (int round = 0; round < 3; ++round) {
    const auto held_back = served.server().statistics().held_back;
    served.until([held_back](const auto& counted) { return counted.held_back > held_back + 100; });
    CHECK(served.server().statistics().waiting_bytes <= io::kMostWaitingBytes);
  }
  CHECK(sleepy.hear()->payload == "hello trainer");
  CHECK(sleepy.hear()->payload.size() == 100'000);
  served.server().close();
  CHECK(served.server().statistics().waiting_bytes == 0);
}

TEST_CASE("the site is woken twenty times a second or so") {
  Served served;
  const int before = served.site.ticks;
  served.until([&](const auto&) { return served.site.ticks >= before + 3; });
}

TEST_CASE("closing ends every connection, and the port is free again") {
  auto served = std::make_unique<Served>();
  const auto port = served->port;
  CHECK(served->url == "http://127.0.0.1:" + std::to_string(port) + "/");
  auto page = served->visitor();
  REQUIRE(page.ask(handshake()).status == 101);
  page.hear();
  auto idle = served->visitor();
  CHECK(idle.ask(get("/healthz")).status == 200);
  auto half = served->visitor();
  half.send("GET / HT");
  auto silent = served->visitor();
  silent.send(get("/api/silent"));
  served->until([](const auto& counted) { return counted.connections == 4; });
  served->server().close();
  CHECK(served->site.pages == 0);
  CHECK(page.ended());
  CHECK(idle.ended());
  CHECK(half.ended());
  served->server().close();  // again: nothing
  auto address = test::here();
  address.port = port;
  const Served again(address);
  CHECK(again.port == port);
  CHECK(again.serves());
}

TEST_CASE("a panel that cannot open says so on one line") {
  const Served served;
  test::FakeSite site;
  auto address = test::here();
  address.port = served.port;
  {
    io::PanelServer second(site, address);
    const auto opened = second.open();
    REQUIRE(!opened);
    CHECK(opened.error() == "panel: cannot listen on 127.0.0.1:" + std::to_string(served.port) +
                                ": the port is in use; expected a free one, or 0 to have one chosen");
  }
  address.any_port_if_taken = true;
  {
    io::PanelServer third(site, address);
    const auto opened = third.open();
    REQUIRE(opened);
    CHECK(*opened != served.url);
  }
  io::PanelAddress everywhere;
  everywhere.host = "0.0.0.0";
  everywhere.port = 0;
  {
    io::PanelServer open_to_all(site, everywhere);
    const auto opened = open_to_all.open();
    REQUIRE(!opened);
    CHECK(opened.error() == "panel: 0.0.0.0 can be reached from other machines; expected a token beside it");
  }
  everywhere.trainer_token = test::kTrainerToken;
  everywhere.names = {"oven.example"};
  const Served all(everywhere);
  CHECK(all.url == "http://oven.example:" + std::to_string(all.port) + "/");
  CHECK(all.ask("GET /healthz HTTP/1.1\r\nHost: oven.example\r\n\r\n").status == 200);
  CHECK(all.ask("GET /healthz HTTP/1.1\r\nHost: rebound.example\r\n\r\n").status == 403);
  CHECK(all.ask(get("/api/state")).status == 401);
  address.host = "no-such-host.invalid";  // RFC 6761, 6.4: never a name
  address.trainer_token = test::kTrainerToken;
  io::PanelServer nowhere(site, address);
  const auto opened = nowhere.open();
  REQUIRE(!opened);
  CHECK(opened.error().find("no-such-host.invalid") != std::string::npos);
}
