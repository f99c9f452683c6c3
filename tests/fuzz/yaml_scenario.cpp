// Text to the loader of scenarios, with the benches that ship beside it.
#include "tests/fuzz/yaml_file.hpp"

using namespace emberline;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Workspace workspace("scenarios/fuzzed.yaml");
  (void)fuzz::load_input(workspace, io::FileKind::scenario, io::load_scenario, data, size);
  return 0;
}
