// Text to the reader of verdicts, which `merge` is given. What is read is written and read again as the same,
// and every report can be made of it.
#include <string>

#include "sim/io/report/report.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace emberline;
using fuzz::must;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto file = io::verdicts_from_json({reinterpret_cast<const char*>(data), size});
  if (!file) {
    must(!file.error().empty(), "a complaint has words");
    for (const char character : file.error()) {
      const auto code = static_cast<unsigned char>(character);
      must(code >= 0x20 && code != 0x7F, "a complaint is one plain line");
    }
    return 0;
  }
  const auto written = io::verdicts_json(file->verdicts, file->shard);
  const auto again = io::verdicts_from_json(written);
  must(again.has_value(), "verdicts that are written can be read");
  must(io::verdicts_json(again->verdicts, again->shard) == written, "they are the same");
  for (const auto& verdict : file->verdicts) (void)io::terminal_report(verdict, false);
  (void)io::summary_text(file->verdicts);
  (void)io::html_report(file->verdicts, "");
  (void)io::junit_xml(file->verdicts, "2000-01-01T00:00:00");
  (void)io::trend_files(file->verdicts);
  return 0;
}
