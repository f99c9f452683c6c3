#pragma once

#include <future>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <utility>
#include <vector>

#include <boost/json.hpp>
#include <doctest/doctest.h>

#include "sim/bench/line_session.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "tests/sim/io/line/running.hpp"

namespace emberline::test {

inline bench::BenchSpec shipped_bench(const std::string& name) {
  auto spec = io::load_bench(EMBERLINE_SOURCE_DIR "/config/benches/" + name);
  REQUIRE(spec);
  return std::move(spec).value();
}

/// A page's end of a live connection, which keeps what it gets.
class Sink final : public io::LiveSink {
 public:
  bool send(io::SharedText text) override {
    if (full) return false;
    texts.push_back(std::move(text));
    return true;
  }
  /// The last message of a type; null if there was none.
  [[nodiscard]] boost::json::value last(std::string_view type) const {
    boost::json::value found;
    for (const auto& text : texts) {
      auto message = boost::json::parse(*text);
      if (message.at("type").as_string() == type) found = std::move(message);
    }
    return found;
  }
  [[nodiscard]] std::size_t count(std::string_view type) const {
    std::size_t number = 0;
    for (const auto& text : texts)
      if (boost::json::parse(*text).at("type").as_string() == type) ++number;
    return number;
  }
  std::vector<io::SharedText> texts;
  bool full = false;
};

/// A hub on a bench that is served by a thread of its own; this thread is the panel's.
class HubRig {
 public:
  static io::WallBench::Options private_lines() {
    io::WallBench::Options options;
    options.private_lines = true;
    return options;
  }
  explicit HubRig(bench::BenchSpec spec, io::PanelHub::Options options = {"1.2.3", false})
      : hub(std::move(options)) {
    begin(std::move(spec));
  }
  ~HubRig() { end(); }

  void begin(bench::BenchSpec spec) {
    running = std::make_unique<Running>(std::move(spec), private_lines());
    hub.attach(running->wall(), running->bench());
    running->go();
  }
  void end() {
    if (!running) return;
    running->stop();
    sessions_.clear();
    hub.detach();
    running.reset();
  }

  struct Answer {
    int status = 0;
    std::string type;
    std::string body;
    std::string file_name;
    [[nodiscard]] boost::json::value json() const { return boost::json::parse(body); }
  };
  /// Asks and ticks until it is answered.
  Answer ask(io::PanelRequest request) {
    auto state = std::make_shared<std::promise<io::PanelAnswer>>();
    auto future = state->get_future();
    hub.handle(std::move(request),
               io::PanelReply([state](io::PanelAnswer answer) { state->set_value(std::move(answer)); }));
    const Deadline deadline;
    while (future.wait_for(std::chrono::seconds{0}) != std::future_status::ready) {
      hub.tick();
      deadline.check();
      std::this_thread::yield();
    }
    auto answer = future.get();
    return {answer.status, answer.type, answer.body, answer.file_name};
  }
  Answer get(std::string path, std::map<std::string, std::string> query = {},
             io::Role role = io::Role::trainer) {
    return ask({"GET", std::move(path), std::move(query), "", role});
  }
  Answer post(std::string path, std::string body, io::Role role = io::Role::trainer) {
    return ask({"POST", std::move(path), {}, std::move(body), role});
  }
  /// Does something to the bench; it has to be understood.
  void act(const std::string& what) {
    CAPTURE(what);
    const auto answer = post("/api/actions", boost::json::serialize(boost::json::value{{"do", what}}));
    CAPTURE(answer.body);
    REQUIRE(answer.status == 200);
  }

  /// Lets a master send bytes over a line, and gives back what comes at once.
  std::vector<modbus::Bytes> send(std::size_t line, const modbus::Bytes& bytes) {
    return running->ask([=, this](bench::Bench& bench, SimTime at) {
      auto& session = sessions_[line];
      if (!session)
        session = std::make_unique<bench::LineSession>(bench, line, "tester", bench::LineSession::Options{});
      session->receive(bytes, at);
      std::vector<modbus::Bytes> answers;
      // What is due later goes out now all the same: nobody waits here.
      for (const auto& piece : session->poll(at)) {
        session->sent(piece, at);
        answers.push_back(piece.bytes);
      }
      return answers;
    });
  }
  std::vector<modbus::Bytes> ask_rtu(std::size_t line, std::uint8_t id, const modbus::Bytes& pdu) {
    return send(line, modbus::rtu_frame(id, pdu));
  }
  std::vector<modbus::Bytes> ask_tcp(std::size_t line, std::uint16_t transaction, std::uint8_t id,
                                     const modbus::Bytes& pdu) {
    return send(line, modbus::mbap_frame(transaction, id, pdu));
  }
  /// Ticks until something holds.
  template <class Condition>
  void until(Condition holds) {
    const Deadline deadline;
    while (!holds()) {
      hub.tick();
      deadline.check();
      std::this_thread::yield();
    }
  }

  io::PanelHub hub;
  std::unique_ptr<Running> running;

 private:
  std::map<std::size_t, std::unique_ptr<bench::LineSession>> sessions_;
};

}  // namespace emberline::test
