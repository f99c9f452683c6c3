// Functions in Structured Text: counts, their bits, decimal digits.
#include <array>

#include "sim/io/tables/table_st_helper_texts.hpp"

namespace emberline::io {
namespace {

// In an order in which each stands after those it uses.
constexpr std::array kHelpers{
    StHelper{"EMB_HAS", "", R"st(
(* TRUE if a block of `count` addresses from `first` on holds all `registers` addresses from `address` on. *)
FUNCTION EMB_HAS : BOOL
  VAR_INPUT
    first, count, address, registers : UDINT;
  END_VAR
  EMB_HAS := (first <= address) AND (address + registers <= first + count);
END_FUNCTION
)st"},
    StHelper{"EMB_DWORD", "", R"st(
(* Two registers as one value. *)
FUNCTION EMB_DWORD : DWORD
  VAR_INPUT
    high, low : WORD;
  END_VAR
  EMB_DWORD := SHL(WORD_TO_DWORD(high), 16) OR WORD_TO_DWORD(low);
END_FUNCTION
)st"},
    StHelper{"EMB_LWORD", "", R"st(
(* Four registers as one value, two and two. *)
FUNCTION EMB_LWORD : LWORD
  VAR_INPUT
    high, low : DWORD;
  END_VAR
  EMB_LWORD := SHL(DWORD_TO_LWORD(high), 32) OR DWORD_TO_LWORD(low);
END_FUNCTION
)st"},
    StHelper{"EMB_COUNT", "", R"st(
(* How many counts of `scale` a value is: a whole number, halves away from zero, held between `lowest` and `highest`;
   `none` for what is no number. A quotient that is off a half by rounding alone, as 1.005 / 0.01 is, counts as the
   half. *)
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
    StHelper{"EMB_COUNT_64", "", R"st(
(* As EMB_COUNT, for counts from 0 to 9007199254740992, the last whole number up to which LREAL leaves none out. *)
FUNCTION EMB_COUNT_64 : LREAL
  VAR_INPUT
    value, scale, lowest, highest, none : LREAL;
  END_VAR
  VAR
    count, whole : LREAL;
  END_VAR
  IF value <> value THEN
    EMB_COUNT_64 := none;
  ELSE
    count := value / scale;
    count := count + MIN(count * LREAL#9.0E-16, LREAL#0.001);
    IF count <= lowest THEN
      EMB_COUNT_64 := lowest;
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
    StHelper{"EMB_RAW", "", R"st(
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
    StHelper{"EMB_SIGN_MAGNITUDE", "", R"st(
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
    StHelper{"EMB_TO_SIGN_MAGNITUDE", "", R"st(
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
    StHelper{"EMB_BCD_OK", "", R"st(
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
    StHelper{"EMB_BCD", "EMB_BCD_OK", R"st(
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
    StHelper{"EMB_TO_BCD", "", R"st(
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
    StHelper{"EMB_BCD_64_OK", "", R"st(
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
    StHelper{"EMB_BCD_64", "EMB_BCD_64_OK", R"st(
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
    StHelper{"EMB_TO_BCD_64", "", R"st(
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
};

}  // namespace

std::span<const StHelper> st_whole_number_helpers() { return kHelpers; }

}  // namespace emberline::io
