// Text to the loader of benches. What is loaded can be built and asked.
#include "sim/bench/bench.hpp"
#include "tests/fuzz/yaml_file.hpp"

using namespace emberline;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Workspace workspace("config/benches/fuzzed.yaml");
  auto spec = fuzz::load_input(workspace, io::FileKind::bench, io::load_bench, data, size);
  if (spec) const bench::Bench built(std::move(spec).value());
  return 0;
}
