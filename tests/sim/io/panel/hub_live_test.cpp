#include <memory>
#include <string>

#include <doctest/doctest.h>

#include "sim/io/panel/hub_core.hpp"
#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using test::HubRig;
using test::Sink;

namespace {

/// A lesson of numbers, for what a hub does with any.
class Desk final : public io::LessonDesk {
 public:
  [[nodiscard]] std::string state_json(bool hidden) const override {
    return hidden ? R"({"version":1,"for":"the blind"})" : R"({"version":1,"for":"all"})";
  }
  [[nodiscard]] std::uint64_t version() const override { return place; }
  [[nodiscard]] Result<Done, std::string> told(const std::string& json) override {
    if (json != R"({"go":"next"})") return Failure{std::string("no such thing")};
    ++place;
    return Done{};
  }
  std::uint64_t place = 1;
};

}  // namespace

TEST_CASE("a page that asked for nothing is sent something") {
  HubRig rig(test::small_bench());
  Sink sink;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  for (int i = 0; i < 100; ++i) rig.hub.tick();
  CHECK(sink.texts.empty());
}

TEST_CASE("a page does not get what it asked for") {
  HubRig rig(test::small_bench());
  Sink sink;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  page->told(
      R"({"rate":10,"state":true,"journal_after":0,"traffic":true,"signals":["north.output","field.state"]})");
  rig.act("open north.terminal.enable");
  (void)rig.ask_rtu(0, 1, {0x03, 0x00, 0x30, 0x00, 0x01});
  rig.until([&] {
    const auto state = sink.last("state");
    return state.is_object() && state.at("in_force").as_array().size() == 1 && sink.count("traffic") > 0 &&
           sink.count("journal") > 0 && sink.count("values") > 0;
  });
  CHECK(sink.last("journal").at("entries").as_array().back().at("by_action").is_bool());
  CHECK(sink.last("traffic").at("frames").at(0).at("n") == 1);
  CHECK(sink.last("values").at("values").as_object().size() == 2);
  CHECK(sink.count("error") == 0);
  CHECK(sink.count("restarted") == 0);
}

TEST_CASE("a page is sent more often than it asked for") {
  HubRig rig(test::small_bench());
  Sink slow;
  Sink quick;
  const auto slow_page = rig.hub.connected(io::Role::trainer, slow);
  const auto quick_page = rig.hub.connected(io::Role::trainer, quick);
  slow_page->told(R"({"rate":1,"state":true})");    // a message every 20 ticks
  quick_page->told(R"({"rate":10,"state":true})");  // every 2
  int ticks = 0;
  rig.until([&] {
    ++ticks;
    return quick.count("state") >= 20;
  });
  CHECK(slow.count("state") <= static_cast<std::size_t>(ticks / 20 + 2));
  CHECK(static_cast<std::size_t>(ticks) >= 2 * (quick.count("state") - 1));
}

TEST_CASE("a page that wants nothing but frames waits for them longer than it asked for") {
  HubRig rig(test::small_bench());
  Sink sink;
  const auto page = rig.hub.connected(io::Role::watcher, sink);
  auto* of_hub = dynamic_cast<io::HubPage*>(page.get());
  REQUIRE(of_hub != nullptr);
  CHECK_FALSE(of_hub->wants_every());
  page->told(R"({"rate":10,"traffic":true})");
  CHECK(of_hub->wants_every() == 2);  // ticks, of which there are twenty a second
}

TEST_CASE("what a page says wrongly ends it, or goes unanswered") {
  HubRig rig(test::small_bench());
  Sink sink;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  const char* wrong[] = {"",
                         "hello",
                         "[]",
                         "{",
                         R"({"rate":11})",
                         R"({"rate":0.1})",
                         R"({"rate":"10"})",
                         R"({"state":1})",
                         R"({"journal_after":-1})",
                         R"({"journal_after":"x"})",
                         R"({"signals":"north.output"})",
                         R"({"signals":[7]})",
                         R"({"signals":["north.nothing"]})",
                         R"({"sate":true})"};
  std::size_t answered = 0;
  for (const char* text : wrong) {
    CAPTURE(text);
    page->told(text);
    CHECK(sink.count("error") == ++answered);
  }
  page->told(R"({"state":true})");
  rig.until([&] { return sink.count("state") > 0; });
}

TEST_CASE("a page that comes before its bench never gets its signals") {
  HubRig rig(test::small_bench());
  rig.end();
  Sink sink;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  page->told(R"({"rate":10,"signals":["north.output","north.nothing"]})");
  for (int i = 0; i < 5; ++i) rig.hub.tick();
  CHECK(sink.texts.empty());
  rig.begin(test::small_bench());
  rig.until([&] { return sink.count("values") > 0; });
  CHECK(sink.last("values").at("values").as_object().size() == 1);
  // The one that is not there on this bench is named, once.
  CHECK(sink.count("error") == 1);
  CHECK(sink.last("error").at("error").as_string() == "signals: there is no 'north.nothing'");
}

TEST_CASE("a request is shown before it is known whether an answer leaves") {
  HubRig rig(test::small_bench());
  Sink sink;
  const auto page = rig.hub.connected(io::Role::watcher, sink);
  page->told(R"({"rate":10,"traffic":true})");
  rig.act("drop_answers field share 100 %");
  CHECK(rig.ask_rtu(0, 1, {0x03, 0x00, 0x30, 0x00, 0x01}).empty());
  rig.until([&] { return sink.count("traffic") > 0; });
  const auto frame = sink.last("traffic").at("frames").at(0);
  CHECK(frame.at("n") == 1);
  CHECK(frame.at("trouble").as_string() == "no answer has left");
}

TEST_CASE("a page that does not keep up misses entries of the journal") {
  HubRig rig(test::small_bench());
  Sink sink;
  sink.full = true;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  page->told(R"({"journal_after":0})");
  for (int i = 0; i < 5; ++i) {
    rig.act("open north.terminal.enable");
    rig.act("release north.terminal.enable");
  }
  for (int i = 0; i < 20; ++i) rig.hub.tick();
  CHECK(sink.texts.empty());
  sink.full = false;
  const auto last = rig.get("/api/journal").json().at("last").to_number<std::uint64_t>();
  std::uint64_t n = 0;
  rig.until([&] {
    n = 0;
    for (const auto& text : sink.texts) {
      const auto message = boost::json::parse(*text);
      for (const auto& entry : message.at("entries").as_array())
        CHECK(entry.at("n").to_number<std::uint64_t>() == ++n);
    }
    return n >= last;
  });
}

TEST_CASE("a page is not told that another run has begun") {
  HubRig rig(test::small_bench());
  Sink sink;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  page->told(R"({"state":true,"journal_after":0,"traffic":true})");
  rig.act("cut field");
  rig.until([&] { return sink.count("journal") > 0 && sink.count("state") > 0; });
  rig.end();
  for (int i = 0; i < 10; ++i) rig.hub.tick();
  sink.texts.clear();
  rig.begin(test::small_bench());
  rig.until([&] { return sink.count("state") > 0; });
  CHECK(boost::json::parse(*sink.texts.front()).at("type").as_string() == "restarted");
  CHECK(sink.last("state").at("in_force").as_array().empty());
  CHECK(sink.last("state").at("lines").at(0).at("state").as_string() == "normal");
}

TEST_CASE("a page that has gone is sent to") {
  HubRig rig(test::small_bench());
  Sink sink;
  auto page = rig.hub.connected(io::Role::trainer, sink);
  page->told(R"({"state":true})");
  rig.until([&] { return sink.count("state") > 0; });
  page.reset();
  const auto count = sink.texts.size();
  for (int i = 0; i < 50; ++i) rig.hub.tick();
  CHECK(sink.texts.size() == count);
}

TEST_CASE("a lesson's steps do not reach the pages") {
  HubRig rig(test::small_bench());
  Desk desk;
  rig.hub.teach(desk);
  Sink sink;
  Sink of_class;
  const auto page = rig.hub.connected(io::Role::trainer, sink);
  const auto class_page = rig.hub.connected(io::Role::watcher, of_class);
  page->told(R"({"lesson":true})");
  class_page->told(R"({"lesson":true})");
  rig.hub.tick();
  rig.hub.tick();
  CHECK(sink.count("lesson") == 1);
  CHECK(sink.last("lesson").at("for").as_string() == "all");
  CHECK(of_class.last("lesson").at("for").as_string() == "all");
  CHECK(rig.post("/api/lesson", R"({"go":"next"})").status == 200);
  CHECK(rig.post("/api/lesson", R"({"go":"away"})").status == 422);
  CHECK(rig.post("/api/lesson", R"({"go":"next"})", io::Role::watcher).status == 403);
  rig.hub.tick();
  CHECK(sink.count("lesson") == 2);
  CHECK(rig.get("/api/lesson", {}, io::Role::watcher).json().at("for").as_string() == "all");
  CHECK(rig.post("/api/blind", R"({"on":true})").status == 200);
  rig.until([&] { return of_class.last("lesson").at("for").as_string() == "the blind"; });
  CHECK(rig.get("/api/lesson", {}, io::Role::watcher).json().at("for").as_string() == "the blind");
  CHECK(rig.get("/api/lesson").json().at("for").as_string() == "all");
  CHECK(sink.last("lesson").at("for").as_string() == "all");
}
