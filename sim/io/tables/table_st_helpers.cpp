#include "sim/io/tables/table_st_helpers.hpp"

#include <algorithm>
#include <array>
#include <cassert>

namespace emberline::io {
namespace {

struct Helper {
  std::string_view name;
  std::string_view uses;  ///< other helpers, with blanks between
  std::string_view text;
};

// In an order in which each stands after those it uses.
constexpr std::array kHelpers{
    Helper{"EMB_HAS", "", R"st(
(* TRUE if a block of `count` addresses from `first` on holds all `registers` addresses from `address` on. *)
FUNCTION EMB_HAS : BOOL
  VAR_INPUT
    first, count, address, registers : UDINT;
  END_VAR
  EMB_HAS := (first <= address) AND (address + registers <= first + count);
END_FUNCTION
)st"},
    Helper{"EMB_DWORD", "", R"st(
(* Two registers as one value. *)
FUNCTION EMB_DWORD : DWORD
  VAR_INPUT
    high, low : WORD;
  END_VAR
  EMB_DWORD := SHL(WORD_TO_DWORD(high), 16) OR WORD_TO_DWORD(low);
END_FUNCTION
)st"},
    Helper{"EMB_LWORD", "", R"st(
(* Four registers as one value, two and two. *)
FUNCTION EMB_LWORD : LWORD
  VAR_INPUT
    high, low : DWORD;
  END_VAR
  EMB_LWORD := SHL(DWORD_TO_LWORD(high), 32) OR DWORD_TO_LWORD(low);
END_FUNCTION
)st"},
    Helper{"EMB_COUNT", "", R"st(
(* How many counts of `scale` a value is: a whole number, halves away from zero, held between `lowest` and `highest`;
   `none` for what is no number. A quotient that is off a half by rounding alone, as 1.005 / 0.01 is, counts as the half. *)
FUNCTION EMB_COUNT : LREAL
  VAR_INPUT
    value, scale, lowest, highest, none : LREAL;
  END_VAR
  VAR
    count, size, whole : LREAL;
  END_VAR
  IF value <> value THEN
    EMB_COUNT := none;
  ELSE
    count := value / scale * LREAL#1.0000000000000009;
    IF count <= lowest THEN
      EMB_COUNT := lowest;
    ELSIF count >= highest THEN
      EMB_COUNT := highest;
    ELSE
      size := ABS(count);
      whole := UDINT_TO_LREAL(LREAL_TO_UDINT(size)); (* rounded or cut off, as the tool has it *)
      IF whole > size THEN
        whole := whole - LREAL#1.0;
      END_IF;
      IF size - whole >= LREAL#0.5 THEN
        whole := whole + LREAL#1.0;
      END_IF;
      IF count < LREAL#0.0 THEN
        EMB_COUNT := -whole;
      ELSE
        EMB_COUNT := whole;
      END_IF;
    END_IF;
  END_IF;
END_FUNCTION
)st"},
    Helper{"EMB_COUNT_64", "", R"st(
(* As EMB_COUNT, for counts from 0 to 9007199254740992, the last whole number up to which LREAL leaves none out. *)
FUNCTION EMB_COUNT_64 : LREAL
  VAR_INPUT
    value, scale, highest, none : LREAL;
  END_VAR
  VAR
    count, whole : LREAL;
  END_VAR
  IF value <> value THEN
    EMB_COUNT_64 := none;
  ELSE
    count := value / scale * LREAL#1.0000000000000009;
    IF count <= LREAL#0.0 THEN
      EMB_COUNT_64 := LREAL#0.0;
    ELSIF count >= highest THEN
      EMB_COUNT_64 := highest;
    ELSE
      whole := ULINT_TO_LREAL(LREAL_TO_ULINT(count)); (* rounded or cut off, as the tool has it *)
      IF whole > count THEN
        whole := whole - LREAL#1.0;
      END_IF;
      IF count - whole >= LREAL#0.5 THEN
        whole := whole + LREAL#1.0;
      END_IF;
      EMB_COUNT_64 := whole;
    END_IF;
  END_IF;
END_FUNCTION
)st"},
    Helper{"EMB_RAW", "", R"st(
(* A whole number as bits, a negative one in two's complement. *)
FUNCTION EMB_RAW : DWORD
  VAR_INPUT
    count : LREAL;
  END_VAR
  IF count < LREAL#0.0 THEN
    EMB_RAW := NOT UDINT_TO_DWORD(LREAL_TO_UDINT(-count - LREAL#1.0));
  ELSE
    EMB_RAW := UDINT_TO_DWORD(LREAL_TO_UDINT(count));
  END_IF;
END_FUNCTION
)st"},
    Helper{"EMB_SIGN_MAGNITUDE", "", R"st(
(* A number whose sign is the bit `sign`, and whose size are the bits below it. *)
FUNCTION EMB_SIGN_MAGNITUDE : DINT
  VAR_INPUT
    raw, sign : DWORD;
  END_VAR
  EMB_SIGN_MAGNITUDE := DWORD_TO_DINT(raw AND (NOT sign));
  IF (raw AND sign) <> DWORD#0 THEN
    EMB_SIGN_MAGNITUDE := -DWORD_TO_DINT(raw AND (NOT sign));
  END_IF;
END_FUNCTION
)st"},
    Helper{"EMB_TO_SIGN_MAGNITUDE", "", R"st(
(* The other way round. *)
FUNCTION EMB_TO_SIGN_MAGNITUDE : DWORD
  VAR_INPUT
    count : LREAL;
    sign : DWORD;
  END_VAR
  IF count < LREAL#0.0 THEN
    EMB_TO_SIGN_MAGNITUDE := sign OR UDINT_TO_DWORD(LREAL_TO_UDINT(-count));
  ELSE
    EMB_TO_SIGN_MAGNITUDE := UDINT_TO_DWORD(LREAL_TO_UDINT(count));
  END_IF;
END_FUNCTION
)st"},
    Helper{"EMB_BCD_OK", "", R"st(
(* TRUE if every four bits are a decimal digit. *)
FUNCTION EMB_BCD_OK : BOOL
  VAR_INPUT
    raw : DWORD;
  END_VAR
  VAR
    place : INT;
    good : BOOL;
  END_VAR
  good := TRUE;
  FOR place := 0 TO 28 BY 4 DO
    IF DWORD_TO_UDINT(SHR(raw, place) AND DWORD#16#F) > UDINT#9 THEN
      good := FALSE;
    END_IF;
  END_FOR;
  EMB_BCD_OK := good;
END_FUNCTION
)st"},
    Helper{"EMB_BCD", "EMB_BCD_OK", R"st(
(* Decimal digits of four bits each as a number; 0 if one of them is none. *)
FUNCTION EMB_BCD : UDINT
  VAR_INPUT
    raw : DWORD;
  END_VAR
  VAR
    place : INT;
    count : UDINT;
  END_VAR
  count := UDINT#0;
  IF EMB_BCD_OK(raw := raw) THEN
    FOR place := 28 TO 0 BY -4 DO
      count := count * UDINT#10 + DWORD_TO_UDINT(SHR(raw, place) AND DWORD#16#F);
    END_FOR;
  END_IF;
  EMB_BCD := count;
END_FUNCTION
)st"},
    Helper{"EMB_TO_BCD", "", R"st(
(* A whole number from 0 up as decimal digits of four bits each. *)
FUNCTION EMB_TO_BCD : DWORD
  VAR_INPUT
    count : LREAL;
  END_VAR
  VAR
    place : INT;
    rest : UDINT;
    raw : DWORD;
  END_VAR
  rest := LREAL_TO_UDINT(count);
  raw := DWORD#0;
  FOR place := 0 TO 28 BY 4 DO
    raw := raw OR SHL(UDINT_TO_DWORD(rest MOD UDINT#10), place);
    rest := rest / UDINT#10;
  END_FOR;
  EMB_TO_BCD := raw;
END_FUNCTION
)st"},
    Helper{"EMB_BCD_64_OK", "", R"st(
(* TRUE if every four bits are a decimal digit. *)
FUNCTION EMB_BCD_64_OK : BOOL
  VAR_INPUT
    raw : LWORD;
  END_VAR
  VAR
    place : INT;
    good : BOOL;
  END_VAR
  good := TRUE;
  FOR place := 0 TO 60 BY 4 DO
    IF LWORD_TO_ULINT(SHR(raw, place) AND LWORD#16#F) > ULINT#9 THEN
      good := FALSE;
    END_IF;
  END_FOR;
  EMB_BCD_64_OK := good;
END_FUNCTION
)st"},
    Helper{"EMB_BCD_64", "EMB_BCD_64_OK", R"st(
(* Decimal digits of four bits each as a number; 0 if one of them is none. *)
FUNCTION EMB_BCD_64 : ULINT
  VAR_INPUT
    raw : LWORD;
  END_VAR
  VAR
    place : INT;
    count : ULINT;
  END_VAR
  count := ULINT#0;
  IF EMB_BCD_64_OK(raw := raw) THEN
    FOR place := 60 TO 0 BY -4 DO
      count := count * ULINT#10 + LWORD_TO_ULINT(SHR(raw, place) AND LWORD#16#F);
    END_FOR;
  END_IF;
  EMB_BCD_64 := count;
END_FUNCTION
)st"},
    Helper{"EMB_TO_BCD_64", "", R"st(
(* A whole number from 0 up as decimal digits of four bits each. *)
FUNCTION EMB_TO_BCD_64 : LWORD
  VAR_INPUT
    count : LREAL;
  END_VAR
  VAR
    place : INT;
    rest : ULINT;
    raw : LWORD;
  END_VAR
  rest := LREAL_TO_ULINT(count);
  raw := LWORD#0;
  FOR place := 0 TO 60 BY 4 DO
    raw := raw OR SHL(ULINT_TO_LWORD(rest MOD ULINT#10), place);
    rest := rest / ULINT#10;
  END_FOR;
  EMB_TO_BCD_64 := raw;
END_FUNCTION
)st"},
    Helper{"EMB_POWER_OF_2", "", R"st(
(* 2 to a whole power from -255 to 255, without rounding. *)
FUNCTION EMB_POWER_OF_2 : LREAL
  VAR_INPUT
    exponent : INT;
  END_VAR
  VAR
    i, rest : INT;
    power, factor : LREAL;
  END_VAR
  power := LREAL#1.0;
  factor := LREAL#2.0;
  rest := ABS(exponent);
  FOR i := 1 TO 8 DO
    IF rest MOD 2 = 1 THEN
      power := power * factor;
    END_IF;
    factor := factor * factor;
    rest := rest / 2;
  END_FOR;
  IF exponent < 0 THEN
    power := LREAL#1.0 / power;
  END_IF;
  EMB_POWER_OF_2 := power;
END_FUNCTION
)st"},
    Helper{"EMB_F32_OK", "", R"st(
(* TRUE if the bits of an IEEE 754 single are a number, neither infinite nor NaN. *)
FUNCTION EMB_F32_OK : BOOL
  VAR_INPUT
    raw : DWORD;
  END_VAR
  EMB_F32_OK := (raw AND DWORD#16#7F800000) <> DWORD#16#7F800000;
END_FUNCTION
)st"},
    Helper{"EMB_F32", "EMB_POWER_OF_2", R"st(
(* The number that the bits of an IEEE 754 single stand for, by arithmetic alone; 0 for infinities and NaN. *)
FUNCTION EMB_F32 : LREAL
  VAR_INPUT
    raw : DWORD;
  END_VAR
  VAR
    exponent : INT;
    number : LREAL;
  END_VAR
  exponent := UDINT_TO_INT(DWORD_TO_UDINT(SHR(raw, 23) AND DWORD#16#FF));
  number := UDINT_TO_LREAL(DWORD_TO_UDINT(raw AND DWORD#16#7FFFFF));
  IF exponent = 255 THEN
    number := LREAL#0.0;
  ELSIF exponent = 0 THEN
    number := number * EMB_POWER_OF_2(exponent := -149);
  ELSE
    number := (number + LREAL#8388608.0) * EMB_POWER_OF_2(exponent := exponent - 150);
  END_IF;
  IF (raw AND DWORD#16#80000000) <> DWORD#0 THEN
    number := -number;
  END_IF;
  EMB_F32 := number;
END_FUNCTION
)st"},
    Helper{"EMB_TO_F32", "EMB_POWER_OF_2", R"st(
(* The bits of the nearest IEEE 754 single, halves to the even one, held at the greatest; NaN for what is no number. *)
FUNCTION EMB_TO_F32 : DWORD
  VAR_INPUT
    value : LREAL;
  END_VAR
  VAR
    i, exponent, shift : INT;
    size, step, whole : LREAL;
    bits : UDINT;
  END_VAR
  IF value <> value THEN
    EMB_TO_F32 := DWORD#16#7FC00000;
  ELSE
    size := ABS(value);
    IF size > LREAL#3.4028234663852886E38 THEN
      size := LREAL#3.4028234663852886E38;
    END_IF;
    (* From 2 to the 23 to below 2 to the 24, if its exponent allows. *)
    exponent := 150;
    shift := 128;
    FOR i := 1 TO 8 DO
      step := EMB_POWER_OF_2(exponent := shift);
      IF size >= LREAL#8388608.0 * step THEN
        size := size / step;
        exponent := exponent + shift;
      ELSIF size * step < LREAL#16777216.0 THEN
        size := size * step;
        exponent := exponent - shift;
      END_IF;
      shift := shift / 2;
    END_FOR;
    IF exponent < 1 THEN
      size := size * EMB_POWER_OF_2(exponent := exponent - 1);
      exponent := 1;
    END_IF;
    bits := LREAL_TO_UDINT(size); (* rounded or cut off, as the tool has it *)
    whole := UDINT_TO_LREAL(bits);
    IF whole > size THEN
      bits := bits - UDINT#1;
      whole := whole - LREAL#1.0;
    END_IF;
    IF (size - whole > LREAL#0.5) OR ((size - whole = LREAL#0.5) AND (bits MOD UDINT#2 = UDINT#1)) THEN
      bits := bits + UDINT#1;
    END_IF;
    bits := bits + INT_TO_UDINT(exponent - 1) * UDINT#8388608;
    EMB_TO_F32 := UDINT_TO_DWORD(bits);
    IF value < LREAL#0.0 THEN
      EMB_TO_F32 := UDINT_TO_DWORD(bits) OR DWORD#16#80000000;
    END_IF;
  END_IF;
END_FUNCTION
)st"},
    Helper{"EMB_TEXT", "", R"st(
(* The characters of `registers` words from words[at] on, up to the first zero byte, two a word: the high byte first, or
   the low one. BYTE_TO_CHAR and CHAR_TO_STRING came with the third edition; a tool without them has its own way. *)
FUNCTION EMB_TEXT : STRING[244]
  VAR_INPUT
    at_word, registers : UDINT;
    low_byte_first : BOOL;
  END_VAR
  VAR_IN_OUT
    words : ARRAY [0..124] OF WORD;
  END_VAR
  VAR
    i : UDINT;
    pair : WORD;
    code : BYTE;
    half : INT;
    text : STRING[244];
    ended : BOOL;
  END_VAR
  text := '';
  ended := FALSE;
  FOR i := UDINT#1 TO registers DO
    pair := words[at_word + i - UDINT#1];
    IF low_byte_first THEN
      pair := ROL(pair, 8);
    END_IF;
    FOR half := 1 TO 2 DO
      pair := ROL(pair, 8);
      code := WORD_TO_BYTE(pair AND WORD#16#FF);
      IF code = BYTE#0 THEN
        ended := TRUE;
      ELSIF NOT ended THEN
        text := CONCAT(text, CHAR_TO_STRING(BYTE_TO_CHAR(code)));
      END_IF;
    END_FOR;
  END_FOR;
  EMB_TEXT := text;
END_FUNCTION
)st"},
};

const Helper& helper_of(std::string_view name) {
  const auto* const found = std::find_if(kHelpers.begin(), kHelpers.end(),
                                         [name](const Helper& helper) { return helper.name == name; });
  assert(found != kHelpers.end());
  return *found;
}

}  // namespace

std::string StHelpers::use(std::string_view name) {
  if (used_.insert(std::string(name)).second) {
    auto others = helper_of(name).uses;
    while (!others.empty()) {
      const auto blank = std::min(others.find(' '), others.size());
      use(others.substr(0, blank));
      others.remove_prefix(std::min(blank + 1, others.size()));
    }
  }
  return std::string(name);
}

std::string StHelpers::text() const {
  std::string text;
  for (const auto& helper : kHelpers)
    if (used_.count(helper.name) != 0) text += helper.text;
  return text;
}

}  // namespace emberline::io
