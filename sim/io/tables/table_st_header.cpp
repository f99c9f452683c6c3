#include "sim/io/tables/table_st_header.hpp"

#include <algorithm>
#include <string_view>

#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_st_names.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kWhatStandsHere = R"st(
  What stands here
    - A structure of the points of every table, in the units its comments say; words and bits as numbers as they are
      carried, with constants below. Where the table says how registers hold no value, a BOOL ..._VALID says whether
      they hold one.
    - ..._GET_...: a value from its registers. ..._VALID_...: whether they hold one. ..._SET_...: a register from a
      value to be written; of several registers the one that `index` says. Only what can be written has a SET.
    - What SET makes of a value: halves are rounded away from zero. It is held within the row's own range, where there
      is one (constants ..._LOWEST and ..._HIGHEST): 1000 % becomes the highest that may be written. A value that is no
      number (NaN) becomes the lowest, 0 for a setpoint; only a unit says "no value", a master never does. For a timeout
      0 may mean "never". Neither is a check of your program: look for such values before they get here.
    - SET of one bit, or of some bits of a register, gives `word_0` with those bits changed. Between the read that
      brought word_0 and your write another master may have written the same register, and its write is lost then.
      Function code 16 (hexadecimal, mask write) avoids that, where your tool has it, and so does a device whose
      registers take only some bits of a write (write_mask).
    - ..._TAKE_...: a whole block read into the structure. Its words come as ARRAY [0..124] OF WORD, exactly that type
      whatever the length of the read (bits: ARRAY [0..1999] OF BOOL), words[0] being the register at `first`. After a
      block read of `count` registers from `first` on:
        VAR  words : ARRAY [0..124] OF WORD;  points : @POINTS@;  taken : UINT;  END_VAR
        (your function block has put its answer into words[0] to words[count - 1])
        taken := @TAKE@(first := first, count := count, words := words, points := points);
        (look at `taken`, and at the ..._VALID in `points`, before you use a value)
    - Constants: addresses, ranges, words, bits, and the block reads that bring everything. A mask ..._IN_WARNINGS is
      for the value of the point WARNINGS, a mask ..._BIT_AT_04E4 for the register at 16#04E4.
    Words are given in the order of their addresses, as the bus brought them: word order, byte order, masks and codings
    are dealt with here. Values are LREAL; counts need no type beyond 32 bits unless a table has one of 64.
    What is called EMB_... stands in every file like this one, and in a project it may stand once: export a bench, which
    brings all its tables in one file, or delete the second copy.
)st";

constexpr std::string_view kLeftToTheTool = R"st(
  What the standard leaves to your tool
    - Whether it has LREAL, LWORD and ULINT: small controllers may lack them. Without LREAL nothing here compiles; LWORD
      and ULINT are used only if a table has a number of 64 bits.
    - How NaN compares. `value <> value` is TRUE for NaN alone by IEC 60559, and that is how it is looked for here; see
      that your tool does not take it for a constant FALSE.
    - How words get in: the function block or driver that sends requests is the tool's own. Hand its words to TAKE.
    - Whether that block counts addresses from 0 or from 1, or wants reference numbers. Every address here is
      zero-based, as on the line; the reference number stands beside it. Read a value you know before you trust any.
    - Where the words of a REAL stand that is laid over two WORDs. Nothing here overlays: singles are taken apart and
      put together by arithmetic, which gives the same everywhere.
    - How a STRING lies in memory. Texts are put together character by character.
    - How a REAL is rounded when it becomes a whole number. What is converted here is put right afterwards.
    - Where global constants may stand. In the standard VAR_GLOBAL stands in a CONFIGURATION or RESOURCE; many tools
      keep lists of them. Move the last part of this file to wherever yours wants it; a program that uses one may have
      to declare it as VAR_EXTERNAL CONSTANT. No function here uses any.
*)
)st";

/// Broken into lines that fit a page.
std::string wrapped(std::string_view text, std::string_view indent) {
  constexpr std::size_t kWidth = 112;
  std::string lines;
  std::string line(indent);
  while (!text.empty()) {
    const auto end = std::min(text.find(' '), text.size());
    if (line.size() + end > kWidth && line.size() > indent.size()) {
      line.pop_back();
      lines += line + "\n";
      line = indent;
    }
    line += std::string(text.substr(0, end)) + " ";
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  line.pop_back();
  return lines + line + "\n";
}

/// `text` with `with` for `mark`.
std::string filled(std::string text, std::string_view mark, const std::string& with) {
  const auto at = text.find(mark);
  return at == std::string::npos ? text : text.replace(at, mark.size(), with);
}

}  // namespace

std::string st_header(const RegisterList& list, const std::string& take, const std::string& points) {
  std::string tables;
  for (const auto& listed : list.tables) {
    tables += (tables.empty() ? "" : "; ") + listed.table->title();
    for (std::size_t i = 0; i < listed.users.size(); ++i)
      tables += (i == 0 ? " (" : ", ") + listed.users[i].name + (i + 1 == listed.users.size() ? ")" : "");
  }
  return "(*\n  Registers of: " + st_comment(list.title) + "\n  Tables: " + st_comment(tables) +
         "\n  Written by " + st_comment(list.program) +
         ", in Structured Text of IEC 61131-3:2013, standard features only.\n\n" +
         wrapped("CAUTION. " + std::string(list_caution()), "  ") +
         filled(filled(std::string(kWhatStandsHere), "@TAKE@", take), "@POINTS@", points) +
         std::string(kLeftToTheTool);
}

}  // namespace emberline::io
