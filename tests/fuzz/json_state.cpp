// Text to the reader of saved states. What is read is written and read again as the same, and a bench that
// can start from it does.
#include "sim/bench/bench.hpp"
#include "sim/io/files/state_file.hpp"
#include "sim/io/report/report.hpp"
#include "tests/fuzz/yaml_file.hpp"

using namespace emberline;
using fuzz::must;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Workspace workspace("scenarios/fuzzed.yaml");
  static const auto spec = io::load_bench(EMBERLINE_SOURCE_DIR "/config/benches/water-heater.yaml");
  must(spec.has_value(), "a shipped bench loads");
  workspace.write(data, size);
  io::Problems problems;
  const auto state = io::read_state(workspace.path(), problems);
  must(state.has_value() == problems.empty(), "a state is read or complained about");
  if (!state) {
    fuzz::check_problems(problems, {reinterpret_cast<const char*>(data), size});
    return 0;
  }
  const auto written = io::bench_state_json(*state);
  workspace.write(reinterpret_cast<const std::uint8_t*>(written.data()), written.size());
  const auto again = io::read_state(workspace.path(), problems);
  must(again.has_value(), "a state that is written can be read");
  must(io::bench_state_json(*again) == written, "it is the same state");
  for (const auto& line : bench::problems(*state, *spec)) must(!line.empty(), "a complaint has words");
  if (!bench::problems(*state, *spec).empty()) return 0;
  bench::Bench::Options options;
  options.starts_from = *state;
  const bench::Bench built(*spec, options);
  return 0;
}
