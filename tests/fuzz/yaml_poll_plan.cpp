// Text to the loader of poll plans, with the benches that ship beside it. A plan can be made and written in
// every form.
#include "sim/io/tables/plan_formats.hpp"
#include "tests/fuzz/yaml_file.hpp"

using namespace emberline;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Workspace workspace("config/polls/fuzzed.yaml");
  const auto plan = fuzz::load_input(workspace, io::FileKind::poll_plan, io::load_poll_plan, data, size);
  if (!plan) return 0;
  for (const auto write : {io::plan_text, io::plan_markdown, io::plan_csv, io::plan_json, io::plan_st})
    fuzz::must(!write(*plan).empty(), "a plan is written");
  return 0;
}
