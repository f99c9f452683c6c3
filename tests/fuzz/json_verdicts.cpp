// Text to the reader of verdicts, which `merge` is given. What is read is written and read again as the same,
// and every report can be made of it.
#include <string>

#include "sim/base/plain_text.hpp"
#include "sim/io/report/report.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace emberline;
using fuzz::must;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto file = io::verdicts_from_json({reinterpret_cast<const char*>(data), size});
  if (!file) {
    must(!file.error().empty(), "a complaint has words");
    must(one_line(file.error()) == file.error(), "a complaint is one plain line");
    return 0;
  }
  const auto written = io::verdicts_json(file->verdicts, file->shard);
  const auto again = io::verdicts_from_json(written);
  must(again.has_value(), "verdicts that are written can be read");
  must(io::verdicts_json(again->verdicts, again->shard) == written, "they are the same");
  auto shown = io::summary_text(file->verdicts);
  for (const auto& verdict : file->verdicts) shown += io::terminal_report(verdict, false);
  must(plain_lines(shown) == shown, "what is shown steers no terminal");
  (void)io::html_report(file->verdicts, "");
  (void)io::junit_xml(file->verdicts, "2000-01-01T00:00:00");
  (void)io::trend_files(file->verdicts);
  return 0;
}
