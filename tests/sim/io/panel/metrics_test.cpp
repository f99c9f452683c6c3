#include <cctype>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/io/panel/hub_rig.hpp"

using namespace emberline;
using test::HubRig;

namespace {

struct Sample {
  std::string name;
  std::map<std::string, std::string> labels;
  double value = 0.0;
};
struct Metric {
  std::string type;
  std::string help;
  std::vector<Sample> samples;
};

/// Reads the text format 0.0.4 as "Exposition formats" of the Prometheus documentation has it: metric names
/// [a-zA-Z_:][a-zA-Z0-9_:]*, label names [a-zA-Z_][a-zA-Z0-9_]*, label values with \\, \" and \n, one space
/// before the value, a line feed behind each line; HELP and TYPE once for a metric, before its samples, which
/// stand together. Whatever is not so fails the test.
class Reader {
 public:
  explicit Reader(std::string_view text) : left_(text) {}
  std::map<std::string, Metric> read() {
    std::map<std::string, Metric> metrics;
    std::string current;
    REQUIRE(left_.ends_with('\n'));
    while (!left_.empty()) {
      if (take("# HELP ")) {
        current = name(true);
        REQUIRE_FALSE(metrics.contains(current));
        need(" ");
        metrics[current].help = rest();
      } else if (take("# TYPE ")) {
        REQUIRE(name(true) == current);
        REQUIRE(metrics[current].type.empty());
        REQUIRE(metrics[current].samples.empty());
        need(" ");
        metrics[current].type = rest();
      } else {
        auto sample = read_sample();
        REQUIRE(sample.name == current);
        REQUIRE_FALSE(metrics[current].type.empty());
        metrics[current].samples.push_back(std::move(sample));
      }
    }
    return metrics;
  }

 private:
  Sample read_sample() {
    Sample sample;
    sample.name = name(true);
    if (take("{")) {
      do {
        const auto label = name(false);
        need("=\"");
        REQUIRE(sample.labels.emplace(label, value_of_label()).second);
      } while (take(","));
      need("}");
    }
    need(" ");
    const auto number = rest();
    if (number == "NaN") {
      sample.value = std::nan("");
    } else {
      std::size_t used = 0;
      sample.value = std::stod(number, &used);
      REQUIRE(used == number.size());
    }
    return sample;
  }
  std::string name(bool colons) {
    std::string text;
    while (!left_.empty()) {
      const auto c = static_cast<unsigned char>(left_.front());
      const bool good =
          std::isalpha(c) != 0 || c == '_' || (colons && c == ':') || (!text.empty() && std::isdigit(c) != 0);
      if (!good) break;
      text += left_.front();
      left_.remove_prefix(1);
    }
    REQUIRE_FALSE(text.empty());
    return text;
  }
  std::string value_of_label() {
    std::string text;
    while (!take("\"")) {
      REQUIRE_FALSE(left_.empty());
      REQUIRE(left_.front() != '\n');
      if (take("\\")) {
        REQUIRE(std::string_view("\\\"n").find(left_.front()) != std::string_view::npos);
        text += left_.front() == 'n' ? '\n' : left_.front();
      } else {
        text += left_.front();
      }
      left_.remove_prefix(1);
    }
    return text;
  }
  bool take(std::string_view what) {
    if (!left_.starts_with(what)) return false;
    left_.remove_prefix(what.size());
    return true;
  }
  void need(std::string_view what) { REQUIRE(take(what)); }
  std::string rest() {
    const auto end = left_.find('\n');
    std::string line(left_.substr(0, end));
    left_.remove_prefix(end + 1);
    return line;
  }
  std::string_view left_;
};

double value_of(const Metric& metric, const std::map<std::string, std::string>& labels) {
  for (const auto& sample : metric.samples)
    if (sample.labels == labels) return sample.value;
  FAIL("no such sample");
  return 0.0;
}

}  // namespace

TEST_CASE("metrics are no text that a collector reads") {
  HubRig rig(test::shipped_bench("tunnel-dryer.yaml"));
  (void)rig.ask_rtu(0, 5, {0x03, 0x00, 0x30, 0x00, 0x01});
  rig.act("cut field");
  const auto answer = rig.get("/metrics");
  CHECK(answer.type == "text/plain; version=0.0.4; charset=utf-8");
  auto metrics = Reader(answer.body).read();
  CHECK(metrics.size() > 25);
  for (const auto& [name, metric] : metrics) {
    CAPTURE(name);
    CHECK(name.starts_with("emberline_"));
    CHECK_FALSE(metric.help.empty());
    // "Metric and label naming" of the same documentation: counters end in _total, units are base units.
    CHECK((metric.type == "counter" || metric.type == "gauge"));
    CHECK(name.ends_with("_total") == (metric.type == "counter"));
    for (const char* unit : {"kilowatt", "millisecond", "percent", "minutes"})
      CHECK(name.find(unit) == std::string::npos);
    std::set<std::map<std::string, std::string>> seen;
    for (const auto& sample : metric.samples) CHECK(seen.insert(sample.labels).second);
  }
  CHECK(value_of(metrics["emberline_line_requests_total"], {{"line", "field"}}) == 1.0);
  CHECK(value_of(metrics["emberline_line_state"], {{"line", "field"}, {"state", "cut"}}) == 1.0);
  CHECK(value_of(metrics["emberline_line_state"], {{"line", "field"}, {"state", "normal"}}) == 0.0);
  CHECK(value_of(metrics["emberline_unit_state"], {{"unit", "front-heater"}, {"state", "stopped"}}) == 1.0);
  CHECK(value_of(metrics["emberline_build_info"],
                 {{"version", "1.2.3"}, {"bench", "Tunnel dryer, two zones"}}) == 1.0);
}

TEST_CASE("a title with quotes breaks the metrics") {
  auto spec = test::small_bench();
  spec.title = "A \"hot\" one,\n with \\ and {}";
  HubRig rig(spec);
  auto metrics = Reader(rig.get("/metrics").body).read();
  CHECK(metrics["emberline_build_info"].samples.at(0).labels.at("bench") == spec.title);
}
