#include "sim/io/tables/table_st_names.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdio>

namespace emberline::io {
namespace {

bool is_letter(char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'); }
bool is_digit(char c) { return c >= '0' && c <= '9'; }
char capital(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }

// Keywords, elementary and generic types, standard functions and function blocks of IEC 61131-3:2013; from
// memory, rather too many than too few.
const std::set<std::string_view>& words() {
  static const std::set<std::string_view> all{// clang-format off
      "ABS", "ABSTRACT", "ACOS", "ACTION", "ADD", "AND", "ANY", "ANY_BIT", "ANY_CHAR", "ANY_CHARS", "ANY_DATE",
      "ANY_DERIVED", "ANY_DURATION", "ANY_ELEMENTARY", "ANY_INT", "ANY_MAGNITUDE", "ANY_NUM", "ANY_REAL",
      "ANY_SIGNED", "ANY_STRING", "ANY_UNSIGNED", "ARRAY", "ASIN", "AT", "ATAN", "ATAN2", "BEGIN", "BODY", "BOOL",
      "BY", "BYTE", "CAL", "CALC", "CALCN", "CASE", "CHAR", "CLASS", "CONCAT", "CONCAT_DATE", "CONCAT_DATE_TOD",
      "CONCAT_DT", "CONCAT_TOD", "CONFIGURATION", "CONSTANT", "CONTINUE", "COS", "CTD", "CTU", "CTUD", "DATE",
      "DATE_AND_TIME", "DAY_OF_WEEK", "DELETE", "DINT", "DIV", "DIVTIME", "DO", "DS", "DT", "DWORD", "ELSE",
      "ELSIF", "EN", "END_ACTION", "END_CASE", "END_CLASS", "END_CONFIGURATION", "END_FOR", "END_FUNCTION",
      "END_FUNCTION_BLOCK", "END_IF", "END_INTERFACE", "END_METHOD", "END_NAMESPACE", "END_PROGRAM",
      "END_PROPERTY", "END_REPEAT", "END_RESOURCE", "END_STEP", "END_STRUCT", "END_TRANSITION", "END_TYPE",
      "END_VAR", "END_WHILE", "ENO", "EQ", "EXIT", "EXP", "EXPT", "EXTENDS", "FALSE", "FB", "FINAL", "FIND",
      "FOR", "FROM", "FUNCTION", "FUNCTION_BLOCK", "F_EDGE", "F_TRIG", "GE", "GT", "IF", "IMPLEMENTS", "INITIAL_STEP",
      "INSERT", "INT", "INTERFACE", "INTERNAL", "INTERVAL", "IS_VALID", "IS_VALID_BCD", "JMP", "JMPC", "JMPCN",
      "LD", "LDATE", "LDATE_AND_TIME", "LDN", "LDT", "LE", "LEFT", "LEN", "LIMIT", "LINT", "LN", "LOG", "LOWER_BOUND",
      "LREAL", "LT", "LTIME", "LTIME_OF_DAY", "LTOD", "LWORD", "MAX", "METHOD", "MID", "MIN", "MOD", "MOVE", "MUL",
      "MULTIME", "MUX", "NAMESPACE", "NE", "NON_RETAIN", "NOT", "NULL", "OF", "ON", "OR", "ORN", "OVERLAP",
      "OVERRIDE", "POINTER", "PRIORITY", "PRIVATE", "PROGRAM", "PROPERTY", "PROTECTED", "PUBLIC", "R1", "READ_ONLY",
      "READ_WRITE", "REAL", "REF", "REFERENCE", "REF_TO", "REPEAT", "REPLACE", "RESOURCE", "RET", "RETAIN", "RETC",
      "RETCN", "RETURN", "RIGHT", "ROL", "ROR", "RS", "RTC", "R_EDGE", "R_TRIG", "S1", "SEL", "SEMA", "SHL", "SHR",
      "SIN", "SINGLE", "SINT", "SPLIT_DATE", "SPLIT_DT", "SPLIT_TOD", "SQRT", "SR", "ST", "STEP", "STN", "STRING",
      "STRUCT", "SUB", "SUPER", "TAN", "TASK", "THEN", "THIS", "TIME", "TIME_OF_DAY", "TO", "TOD", "TOF", "TON",
      "TP", "TRANSITION", "TRUE", "TRUNC", "TYPE", "UDINT", "UINT", "ULINT", "UNION", "UNTIL", "UPPER_BOUND",
      "USING", "USINT", "VAR", "VAR_ACCESS", "VAR_CONFIG", "VAR_EXTERNAL", "VAR_GLOBAL", "VAR_INPUT", "VAR_IN_OUT",
      "VAR_OUTPUT", "VAR_TEMP", "WCHAR", "WHILE", "WITH", "WORD", "WSTRING", "XOR", "XORN"};
  // clang-format on
  return all;
}

}  // namespace

bool is_st_word(std::string_view capitals) { return words().count(capitals) != 0; }

std::string st_identifier(std::string_view text) {
  std::string name;
  for (const char c : text) {
    if (is_letter(c) || is_digit(c))
      name += capital(c);
    else if (!name.empty() && name.back() != '_')
      name += '_';
  }
  while (!name.empty() && name.back() == '_') name.pop_back();
  if (name.empty()) return "NAMELESS";
  return is_letter(name.front()) ? name : "N" + name;
}

std::string st_short_identifier(std::string_view title, std::size_t longest) {
  auto name = st_identifier(title);
  if (name.size() <= longest) return name;
  const auto last = name.rfind('_', longest);
  name.resize(last == std::string::npos ? longest : last);
  while (name.size() > 1 && name.back() == '_') name.pop_back();
  return name;
}

std::string StNames::take(std::string_view wanted, std::string_view else_with) {
  auto name = st_identifier(wanted);
  if (is_st_word(name)) name += "_VALUE";
  if (add(name)) return name;
  if (!else_with.empty()) {
    name += "_" + st_identifier(else_with);
    if (add(name)) return name;
  }
  for (int number = 2;; ++number) {
    auto numbered = name + "_" + std::to_string(number);
    if (add(numbered)) return numbered;
  }
}

std::string st_comment(std::string_view text) {
  std::string plain;
  for (const char c : text) {
    const char before = plain.empty() ? ' ' : plain.back();
    // What begins or ends a comment, of either kind, and a $ for tools that read pragmas there.
    if ((before == '(' && c == '*') || (before == '*' && (c == ')' || c == '/')) ||
        (before == '/' && c == '*'))
      plain += ' ';
    plain += static_cast<unsigned char>(c) < 0x20U ? ' ' : c;
  }
  if (!plain.empty() && plain.back() == '*') plain += ' ';
  return plain;
}

std::string st_narrow(std::string_view program) {
  constexpr std::size_t kWidth = 120;
  std::string narrow;
  narrow.reserve(program.size() + program.size() / 16);
  while (!program.empty()) {
    auto line = program.substr(0, program.find('\n'));
    program.remove_prefix(std::min(line.size() + 1, program.size()));
    const auto indent = std::min(line.find_first_not_of(' '), line.size());
    const std::string further(indent + 4, ' ');
    bool is_first = true;
    while (line.size() + (is_first ? 0 : further.size()) > kWidth) {
      // The last blank that fits, but none of those the line begins with; else the first one behind.
      const auto room = kWidth - (is_first ? 0 : further.size());
      auto at = line.rfind(' ', room);
      if (at == std::string_view::npos || at < (is_first ? indent : 0) + 1) at = line.find(' ', room);
      if (at == std::string_view::npos) break;
      narrow.append(is_first ? "" : further).append(line.substr(0, at)).append("\n");
      line.remove_prefix(at + 1);
      is_first = false;
    }
    narrow.append(is_first ? "" : further).append(line).append("\n");
  }
  return narrow;
}

std::string st_lreal(double value) {
  std::array<char, 64> buffer{};
  const double plain = value == 0.0 ? 0.0 : value;
  std::string text(buffer.data(), std::to_chars(buffer.data(), buffer.data() + buffer.size(), plain).ptr);
  const auto exponent = text.find('e');
  auto digits = text.substr(0, exponent);
  if (digits.find('.') == std::string::npos) digits += ".0";
  if (exponent == std::string::npos) return "LREAL#" + digits;
  auto power = text.substr(exponent + 1);
  const bool negative = power.front() == '-';
  power.erase(0, std::min(power.find_first_not_of("+-0"), power.size() - 1));
  if (negative) power = "-" + power;
  return "LREAL#" + digits + "E" + power;
}

std::string st_hex(unsigned long long value, int digits) {
  std::array<char, 24> text{};
  (void)std::snprintf(text.data(), text.size(), "16#%0*llX", digits, value);
  return text.data();
}

}  // namespace emberline::io
