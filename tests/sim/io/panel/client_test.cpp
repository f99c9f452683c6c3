#include <chrono>
#include <string>
#include <thread>

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <sys/socket.h>
#include <unistd.h>

#include "sim/io/panel/http_client.hpp"
#include "tests/sim/io/panel/fake_site.hpp"

using namespace emberline;
using test::Served;

namespace {

/// A port at which one visitor gets these bytes, whatever he asks.
class OneAnswer {
 public:
  explicit OneAnswer(std::string bytes) : listener_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof address;
    REQUIRE(::bind(listener_, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
    REQUIRE(::listen(listener_, 1) == 0);
    REQUIRE(::getsockname(listener_, reinterpret_cast<sockaddr*>(&address), &length) == 0);
    url = "http://127.0.0.1:" + std::to_string(ntohs(address.sin_port)) + "/";
    thread_ = std::thread([this, bytes = std::move(bytes)] {
      const int visitor = ::accept(listener_, nullptr, nullptr);
      char asked[4096];
      (void)::recv(visitor, asked, sizeof asked, 0);
      (void)::send(visitor, bytes.data(), bytes.size(), MSG_NOSIGNAL);
      ::close(visitor);
    });
  }
  ~OneAnswer() {
    thread_.join();
    ::close(listener_);
  }
  std::string url;

 private:
  int listener_;
  std::thread thread_;
};

/// Of eight megabytes under a sanitizer, on a machine that does something else.
constexpr std::chrono::seconds kNoHurry{300};

}  // namespace

TEST_CASE("a panel answers whoever asks from the command line, with and without a token") {
  const Served served(test::with_tokens());
  io::PanelCall call{served.url, "/api/state", std::nullopt, test::kWatcherToken, kNoHurry};
  auto answer = io::call_panel(call);
  REQUIRE(answer);
  CHECK(answer->status == 200);
  CHECK(answer->body == "GET /api/state watcher ");
  call.token = test::kTrainerToken;
  call.path = "/api/actions";
  call.body = R"({"do":"cut field"})";
  answer = io::call_panel(call);
  REQUIRE(answer);
  CHECK(answer->body == R"(POST /api/actions trainer {"do":"cut field"})");
  call.token = "";
  answer = io::call_panel(call);
  REQUIRE(answer);
  CHECK(answer->status == 401);
  call = {served.url, "/api/big", std::nullopt, test::kTrainerToken, kNoHurry};
  answer = io::call_panel(call);
  REQUIRE(answer);
  CHECK(answer->body.size() == 8'000'000);
  call.url.pop_back();  // without the slash at its end
  call.path = "/healthz";
  REQUIRE(io::call_panel(call));
}

TEST_CASE("what is no panel's address, and who is not there, is one line that begins with it") {
  std::uint16_t free_port = 0;
  {
    const Served gone;
    free_port = gone.port;
  }
  struct Row {
    std::string url;
    const char* words;
  };
  const Row rows[] = {
      {"https://127.0.0.1:8710/", "expected the address of a panel"},
      {"127.0.0.1:8710", "expected the address of a panel"},
      {"http://", "expected the address of a panel"},
      {"http://:8710/", "expected the address of a panel"},
      {"http://127.0.0.1:x/", "expected the address of a panel"},
      {"http://127.0.0.1:871000/", "expected the address of a panel"},
      {"http://a@127.0.0.1/", "expected the address of a panel"},
      {"http://127.0.0.1:8710/api/state", "expected the address of a panel"},
      {"http://127.0.0.1:8710\r\nX: y/", "expected the address of a panel"},
      {"http://127.0.0.1:" + std::to_string(free_port) + "/", "nobody there"},
      {"http://no-such-host.invalid/", "no address of that name"},  // RFC 6761, 6.4
  };
  for (const auto& row : rows) {
    CAPTURE(row.url);
    const auto answer = io::call_panel({row.url, "/healthz", std::nullopt, ""});
    REQUIRE(!answer);
    CHECK(answer.error().starts_with(row.url + ": "));
    CHECK_MESSAGE(answer.error().find(row.words) != std::string::npos, answer.error());
  }
  CHECK(io::is_panel_url("http://127.0.0.1:8710/"));
  CHECK(!io::is_panel_url("bench.yaml"));
  CHECK(!io::is_panel_url("/run/lehr.sock"));
}

TEST_CASE("something else at a panel's address is told from a panel") {
  for (const std::string& bytes :
       {std::string("SSH-2.0-something\r\n"), std::string(), std::string(100'000, '\xFF'),
        std::string("HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\nshort"),
        std::string("HTTP/1.1 200 OK\r\nContent-Length: 999999999999\r\n\r\n")}) {
    CAPTURE(bytes.substr(0, 60));
    const OneAnswer other(bytes);
    const auto answer = io::call_panel({other.url, "/healthz", std::nullopt, ""});
    REQUIRE(!answer);
    CHECK(answer.error() == other.url + ": what is there is no panel, or it has just ended");
  }
}
