#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/quantity.hpp"
#include "sim/faults/action.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

using faults::ActionKey;
using faults::TargetKind;

std::string sample(const ActionKey& key) {
  switch (key.kind) {
    case ActionKey::Kind::duration:
      return "20 ms";
    case ActionKey::Kind::share:
      return "50 %";
    case ActionKey::Kind::whole:
      return format_number(key.least);
    case ActionKey::Kind::rate:
      return "0.001";
    case ActionKey::Kind::percentage:
      return key.most > 1.0 ? "115 %" : "40 %";
    case ActionKey::Kind::frequency:
      return "49 Hz";
    case ActionKey::Kind::difference:
      return "-12 K";
    case ActionKey::Kind::word:
      return std::string(key.words.back());
  }
  return {};
}

std::string sample(TargetKind kind) {
  switch (kind) {
    case TargetKind::line:
    case TargetKind::rtu_line:
      return "field";
    case TargetKind::tcp_line:
      return "ethernet";
    case TargetKind::wire:
      return "main";
    case TargetKind::unit:
      return "soak-heater";
    case TargetKind::supply:
      return "supply";
    case TargetKind::leg:
      return "soak-heater.l2";
    case TargetKind::thyristor:
      return "soak-heater.l2.backward";
    case TargetKind::plant:
      return "plant";
    case TargetKind::zone:
    case TargetKind::mendable:
      return "soak";
  }
  return {};
}

void check_same(const faults::Action& found, const faults::Action& expected) {
  CHECK(found.kind == expected.kind);
  CHECK(found.target == expected.target);
  CHECK(found.target_name == expected.target_name);
  CHECK(found.values == expected.values);
}

}  // namespace

TEST_CASE("every action means in a scenario what it means in a line of text, with all its keys and for") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  // With everything that can fail.
  auto bench = test::replaced(test::kBench, "sensor: { lag: 12 s }",
                              "sensor: { lag: 12 s }, cut_out: { above: 700 degC, opens: main }");
  bench = test::replaced(bench, "    limits: { current: 50 A }", "    heat_sink: { resistance: 0.25 K/W }");
  workspace.write("bench.yaml", bench);
  for (const auto* kind : faults::all_actions()) {
    const std::string target = sample(kind->target);
    std::string in_file = "{ at: 30 s, " + std::string(kind->word) + ": " + target;
    std::string in_text = std::string(kind->word) + " " + target;
    for (const auto& key : kind->keys) {
      in_file += ", " + std::string(key.key) + ": " + sample(key);
      in_text += " " + std::string(key.key) + " " + sample(key);
    }
    const bool lasts = kind->undo != nullptr;
    if (lasts) {
      in_file += ", for: 1500 ms";
      in_text += " for 1500 ms";
    }
    CAPTURE(in_text);
    // Expectations hang on it by word and target alone.
    const auto anchor = "until: { cut: field }";
    const auto other = "until: { " + std::string(kind->word) + ": " + target + " }";
    auto text = test::replaced(test::kScenario, anchor, other);
    text = test::replaced(text, "after: { restore: field }", "from: 30 s");
    const auto path = workspace.write("scenario.yaml",
                                      test::replaced(text, "{ at: 30 s, restore: field }", in_file + " }"));
    const auto loaded = io::load_scenario(path);
    if (!loaded) FAIL(workspace.lines(loaded.error()).front());
    const auto expected = faults::parse_action(loaded->bench, in_text);
    REQUIRE(expected);
    CHECK(expected->lasts.has_value() == lasts);

    const auto& timeline = loaded->timeline;  // in the order of the file; the cut of the sample comes last
    REQUIRE(timeline.size() == (lasts ? 3 : 2));
    CHECK(timeline[0].when.at == SimTime{30s});
    CHECK_FALSE(timeline[0].takes_back);
    check_same(*timeline[0].action, *expected);
    if (!lasts) continue;
    CHECK(timeline[1].when.at == SimTime{31500ms});
    CHECK(timeline[1].takes_back);
    check_same(*timeline[1].action, kind->undo(*expected));
  }
}
