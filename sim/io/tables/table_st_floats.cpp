// Functions in Structured Text: singles by arithmetic, characters one by one.
#include <array>

#include "sim/io/tables/table_st_helper_texts.hpp"

namespace emberline::io {
namespace {

// In an order in which each stands after those it uses.
constexpr std::array kHelpers{
    StHelper{"EMB_POWER_OF_2", "", R"st(
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
    StHelper{"EMB_F32_OK", "", R"st(
(* TRUE if the bits of an IEEE 754 single are a number, neither infinite nor NaN. *)
FUNCTION EMB_F32_OK : BOOL
  VAR_INPUT
    raw : DWORD;
  END_VAR
  EMB_F32_OK := (raw AND DWORD#16#7F800000) <> DWORD#16#7F800000;
END_FUNCTION
)st"},
    StHelper{"EMB_F32", "EMB_POWER_OF_2", R"st(
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
    StHelper{"EMB_F32_WHOLE", "EMB_F32", R"st(
(* The whole number in an IEEE 754 single; 0 beyond 16777216 either way, where singles leave some out. *)
FUNCTION EMB_F32_WHOLE : DINT
  VAR_INPUT
    raw : DWORD;
  END_VAR
  VAR
    number : LREAL;
  END_VAR
  number := EMB_F32(raw := raw);
  EMB_F32_WHOLE := 0;
  IF ABS(number) <= LREAL#16777216.0 THEN
    EMB_F32_WHOLE := LREAL_TO_DINT(number);
  END_IF;
END_FUNCTION
)st"},
    StHelper{"EMB_TO_F32", "EMB_POWER_OF_2", R"st(
(* The bits of the nearest IEEE 754 single, halves to the even one, held at the greatest; NaN for what is no number. *)
FUNCTION EMB_TO_F32 : DWORD
  VAR_INPUT
    value : LREAL;
  END_VAR
  VAR
    i, exponent, shift : INT;
    size, factor, whole : LREAL;
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
      factor := EMB_POWER_OF_2(exponent := shift);
      IF size >= LREAL#8388608.0 * factor THEN
        size := size / factor;
        exponent := exponent + shift;
      ELSIF size * factor < LREAL#16777216.0 THEN
        size := size * factor;
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
    StHelper{"EMB_TEXT", "", R"st(
(* The characters of `registers` words from words[at] on, up to the first zero byte, two a word: the high byte first, or
   the low one. Characters are looked up, since tools differ in how they make one of its code; what is not printable
   ASCII becomes a question mark. *)
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
    code, half : INT;
    text : STRING[244];
    printable : STRING[95] :=
      ' !"#$$%&$'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\]^_`abcdefghijklmnopqrstuvwxyz{|}~';
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
      code := WORD_TO_INT(pair AND WORD#16#FF);
      IF code = 0 THEN
        ended := TRUE;
      ELSIF NOT ended AND (code >= 32) AND (code <= 126) THEN
        text := CONCAT(text, MID(printable, 1, code - 31));
      ELSIF NOT ended THEN
        text := CONCAT(text, '?');
      END_IF;
    END_FOR;
  END_FOR;
  EMB_TEXT := text;
END_FUNCTION
)st"},
};

}  // namespace

std::span<const StHelper> st_float_helpers() { return kHelpers; }

}  // namespace emberline::io
