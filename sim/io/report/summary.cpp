#include "sim/io/report/report.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {

using rehearsal::Outcome;
using rehearsal::Verdict;

std::string summary_text(const std::vector<Verdict>& verdicts) {
  std::string text;
  std::size_t passed = 0;
  for (const auto& verdict : verdicts) {
    passed += verdict.passed ? 1 : 0;
    text += (verdict.passed ? "PASSED  " : "FAILED  ") + verdict.title + "\n";
    if (verdict.passed) continue;
    for (const auto& outcome : verdict.outcomes)
      if (outcome.result != Outcome::Result::passed)
        text += "        " + outcome.name + ": " + outcome.sentence + "\n";
    text += "        does it again: " + command_of(verdict) + "\n";
  }
  return text + std::to_string(passed) + " of " + std::to_string(verdicts.size()) + " rehearsals passed\n";
}

}  // namespace emberline::io
