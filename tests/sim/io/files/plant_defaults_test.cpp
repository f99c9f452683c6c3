#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

namespace {

/// Whether the partial load of the sample bench is supervised, with its load told to be made of `material`
/// and `extra` put into its unit.
bool supervises(const std::string& material, const std::string& extra = "") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  auto text = test::replaced(test::kBench, "cold_resistance: 22 ohm",
                             "cold_resistance: 22 ohm, material: " + material);
  text = test::replaced(text, "    limits: {", extra + "    limits: {");
  const auto spec = io::load_bench(workspace.write("bench.yaml", text));
  REQUIRE(spec);
  return spec->units[0].unit.protections[static_cast<std::size_t>(unit::Protection::partial_load_failure)].on;
}

}  // namespace

TEST_CASE("a load that changes its resistance on the way up is no failing load, unless somebody asks") {
  CHECK(supervises("constant"));
  CHECK(supervises("nickel-chromium"));
  CHECK(supervises("iron-chromium-aluminium"));
  CHECK_FALSE(supervises("tungsten"));
  CHECK_FALSE(supervises("molybdenum-disilicide"));
  CHECK_FALSE(supervises("silicon-carbide"));
  CHECK_FALSE(supervises("graphite"));
  CHECK(supervises("tungsten", "    protections: { partial-load-failure: { learn: command } }\n"));
}
