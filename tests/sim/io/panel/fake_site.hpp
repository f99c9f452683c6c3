#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <memory>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/panel/panel_server.hpp"
#include "sim/io/panel/site.hpp"
#include "tests/sim/io/panel/visitor.hpp"

namespace emberline::test {

inline std::string word(io::Role role) { return role == io::Role::trainer ? "trainer" : "watcher"; }

/// A site that tells what it was asked, and shows what happens to answers of all kinds.
class FakeSite final : public io::PanelSite {
 public:
  ~FakeSite() override {
    if (later_.joinable()) later_.join();
  }
  void handle(io::PanelRequest request, io::PanelReply reply) override {
    ++handled;
    if (request.path == "/api/thrown") throw std::runtime_error("a mistake of the site");
    if (request.path == "/api/dropped") return;
    if (request.path == "/api/silent") {
      kept_.push_back(std::make_unique<io::PanelReply>(std::move(reply)));
      return;
    }
    if (request.path == "/api/later") {
      later_ = std::thread(
          [reply = std::make_shared<io::PanelReply>(std::move(reply))] { (*reply)({.body = "later"}); });
      return;
    }
    if (request.path == "/api/file") return reply({200, "text/csv", "a,b\r\n", "tre\"nd.csv"});
    if (request.path == "/api/big") return reply({.body = std::string(8'000'000, 'x')});
    std::string text = request.method + " " + request.path + " " + word(request.role);
    for (const auto& [key, value] : request.query) text += " " + key + "=" + value;
    reply({.body = text + " " + request.body});
  }
  std::unique_ptr<io::LivePage> connected(io::Role role, io::LiveSink& sink) override {
    return std::make_unique<Page>(*this, role, sink);
  }
  void tick() override {
    ++ticks;
    for (auto* page : pages_) page->tick();
  }

  std::atomic<int> handled{0};
  std::atomic<int> ticks{0};
  std::atomic<int> pages{0};
  std::atomic<int> refused_texts{0};  ///< that a page did not take

 private:
  /// Says who it is, then repeats what it is told; "flood" makes it send without end.
  class Page final : public io::LivePage {
   public:
    Page(FakeSite& site, io::Role role, io::LiveSink& sink) : site_(site), sink_(sink) {
      ++site_.pages;
      site_.pages_.push_back(this);
      sink_.send(std::make_shared<const std::string>("hello " + word(role)));
    }
    ~Page() override {
      --site_.pages;
      std::erase(site_.pages_, this);
    }
    void told(const std::string& text) override {
      flooding_ = text == "flood";
      if (!flooding_) sink_.send(std::make_shared<const std::string>("you said " + text));
    }
    void tick() {
      static const auto kLong = std::make_shared<const std::string>(100'000, 'y');
      for (int i = 0; flooding_ && i < 20; ++i)
        if (!sink_.send(kLong)) ++site_.refused_texts;
    }

   private:
    FakeSite& site_;
    io::LiveSink& sink_;
    bool flooding_ = false;
  };

  std::vector<std::unique_ptr<io::PanelReply>> kept_;
  std::vector<Page*> pages_;  // touched on the panel's thread only
  std::thread later_;
};

inline constexpr const char* kTrainerToken = "trainer-token-0123456789";
inline constexpr const char* kWatcherToken = "watcher-token-0123456789";

/// A panel of this machine alone, on a port of its own choosing.
inline io::PanelAddress here() {
  io::PanelAddress address;
  address.port = 0;
  return address;
}
inline io::PanelAddress with_tokens() {
  auto address = here();
  address.trainer_token = kTrainerToken;
  address.watcher_token = kWatcherToken;
  return address;
}

/// The fake site, served.
class Served {
 public:
  explicit Served(io::PanelAddress address = here(), io::PanelPatience patience = {})
      : server_(site, std::move(address), patience) {
    const auto opened = server_.open();
    if (!opened) FAIL(opened.error());
    url = *opened;
    port = static_cast<std::uint16_t>(std::atoi(url.substr(url.rfind(':') + 1).c_str()));
  }
  [[nodiscard]] Visitor visitor() const { return Visitor(port); }
  Got ask(const std::string& text) const { return visitor().ask(text); }
  /// Waits until `holds` is true of what the server counts.
  template <class Condition>
  void until(Condition holds) const {
    const auto end = std::chrono::steady_clock::now() + std::chrono::seconds{60};
    while (!holds(server_.statistics())) {
      if (std::chrono::steady_clock::now() > end) FAIL("waited in vain");
      std::this_thread::yield();
    }
  }
  [[nodiscard]] bool serves() const { return ask(get("/healthz")).body == "ok\n"; }
  io::PanelServer& server() { return server_; }
  [[nodiscard]] io::PanelServer::Statistics server_statistics() const { return server_.statistics(); }

  FakeSite site;
  std::string url;
  std::uint16_t port = 0;

 private:
  io::PanelServer server_;
};

}  // namespace emberline::test
