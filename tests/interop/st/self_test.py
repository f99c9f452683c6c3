#!/usr/bin/env python3
"""Holds the Structured Text checker against small programs whose meaning the standard says: self_test.py

Every good one has to give the stated result, every bad one the stated complaint. Sections: IEC 61131-3:2013, from memory.
"""
import struct
import sys

from run import Machine
from st_program import Program
from st_types import StError


def f(body, result="INT", vars=""):
    return f"FUNCTION F : {result}\n{vars}\n{body}\nEND_FUNCTION\n"


V = "VAR x : INT; w : WORD; d : DINT; u : UINT; r : REAL; b : BOOL; l : LREAL; t : TIME; dw : DWORD; y8 : BYTE; END_VAR"
TYPES = """
TYPE
  Colour : (red, green := 5, blue);
  Weight : DWORD (light := 16#01, heavy := 16#80000000) := heavy;
  Level : INT (-10..10) := 3;
  Row : ARRAY [0..2, 1..2] OF INT := [2(7), 1, 2(), 9];
  Inner : STRUCT a : INT := 4; b : STRING[5] := 'ab$'c'; END_STRUCT;
  Outer : STRUCT rows : ARRAY [1..3] OF Inner := [(a := 1), 2((a := 2, b := 'x'))]; c : Colour := blue; END_STRUCT;
END_TYPE
"""

# (what is shown, program, arguments, result)
GOOD = [
    ("6.6.2.5.6: REAL_TO_INT rounds to the nearest even", f("F := REAL_TO_INT(2.5) + REAL_TO_INT(3.5);"), [], 6),
    ("and so on the negative side", f("F := REAL_TO_INT(-2.5);"), [], -2),
    ("TRUNC cuts towards zero", f("F := TRUNC(-2.9);"), [], -2),
    ("REAL_TRUNC_INT likewise", f("F := REAL_TRUNC_INT(2.9);"), [], 2),
    ("division of integers cuts towards zero", f("F := -7 / 2;"), [], -3),
    ("MOD has the sign of the dividend", f("x := -7; F := x MOD 3;", vars=V), [], -1),
    ("MOD ranks as * does, from left to right", f("F := 17 MOD 10 * 2;"), [], 14),
    ("Table 71: - of a number is stronger than **", f("r := 2.0; F := -r ** 2;", "REAL", V), [], 4.0),
    ("NOT is stronger than AND", f("F := NOT FALSE AND FALSE;", "BOOL"), [], False),
    ("= is stronger than AND, AND than XOR, XOR than OR", f("F := TRUE OR TRUE XOR TRUE AND 1 = 2;", "BOOL"), [], True),
    ("comparison is stronger than =", f("F := 1 < 2 = 3 < 4;", "BOOL"), [], True),
    ("SHL drops what leaves a WORD", f("F := SHL(WORD#16#8001, 1);", "WORD"), [], 2),
    ("SHR fills with zeros", f("F := SHR(WORD#16#8001, 15);", "WORD"), [], 1),
    ("ROL turns within the width", f("F := ROL(BYTE#16#81, 1);", "BYTE"), [], 3),
    ("NOT of a BYTE stays a BYTE", f("F := NOT BYTE#16#0F;", "BYTE"), [], 0xF0),
    ("WORD_TO_INT carries the bits", f("F := WORD_TO_INT(16#FFFF);"), [], -1),
    ("WORD_TO_DINT fills with zeros", f("F := WORD_TO_DINT(16#FFFF);", "DINT"), [], 65535),
    ("INT_TO_WORD carries the bits", f("F := INT_TO_WORD(-2);", "WORD"), [], 0xFFFE),
    ("DWORD_TO_WORD keeps the lowest", f("F := DWORD_TO_WORD(16#12345678);", "WORD"), [], 0x5678),
    ("Table 24: DWORD_TO_REAL carries the bits", f("F := DWORD_TO_REAL(16#3FC00000);", "REAL"), [], 1.5),
    ("Table 24: REAL_TO_DWORD back", f("F := REAL_TO_DWORD(-2.0);", "DWORD"), [], 0xC0000000),
    ("BCD both ways", f("F := WORD_BCD_TO_UINT(UINT_TO_BCD_WORD(1234));", "UINT"), [], 1234),
    ("a BYTE becomes a WORD by itself", f("y8 := 16#F0; w := y8 OR WORD#16#0F00; F := w;", "WORD", V), [], 0x0FF0),
    ("UINT_TO_LREAL then LREAL_TO_UDINT", f("F := LREAL_TO_UDINT(UINT_TO_LREAL(65535) * 65537.0);", "UDINT"), [], 4294967295),
    ("a REAL has 24 binary digits", f("r := 0.1; F := r;", "LREAL", V), [], struct.unpack("<f", struct.pack("<f", 0.1))[0]),
    ("EXPT", f("F := EXPT(10.0, -2);", "LREAL"), [], 0.01),
    ("SEL, MUX, LIMIT, MIN, MAX", f("F := SEL(TRUE, 1, 2) + MUX(2, 1, 2, 40) + LIMIT(0, 500, 100) + MIN(3, 7) + MAX(1, 5, 2);"),
     [], 150),
    ("named inputs in any sequence", f("F := LIMIT(MX := 9, IN := 20, MN := 1);"), [], 9),
    ("T#1m30s500ms", f("t := T#1m30s500ms; F := t = T#90.5s;", "BOOL", V), [], True),
    ("TIME times a number", f("F := T#2s * 3 = T#6s;", "BOOL"), [], True),
    ("based literals, underscores", f("F := 2#1010_0000 + 16#F + 8#17 + 1_000;"), [], 160 + 15 + 15 + 1000),
    ("IF with ELSIF", f("x := 2; IF x = 1 THEN F := 1; ELSIF x = 2 THEN F := 22; ELSE F := 3; END_IF;", vars=V), [], 22),
    ("CASE with a range and a list", f("CASE k OF 1: F := 1; 2, 4..6: x := 1; F := 2; ELSE F := 9; END_CASE;", vars=
                                      V + " VAR_INPUT k : INT; END_VAR"), [5], 2),
    ("FOR downwards with EXIT", f("FOR x := 10 TO 1 BY -3 DO IF x < 3 THEN EXIT; END_IF; F := F + x; END_FOR;", vars=V), [], 21),
    ("WHILE and CONTINUE", f("WHILE x < 5 DO x := x + 1; IF x = 3 THEN CONTINUE; END_IF; F := F + x; END_WHILE;", vars=V),
     [], 12),
    ("REPEAT runs once at least", f("REPEAT F := F + 1; UNTIL TRUE END_REPEAT;"), [], 1),
    ("RETURN ends it", f("F := 1; RETURN; F := 2;"), [], 1),
    ("comments of both kinds", f("F := (* one * ) *) 1 // two\n + 2 /* three */;"), [], 3),
    ("names have no case", f("X := 3; f := x;", vars=V), [], 3),
    ("arrays: rows first, repetition, the rest by default",
     TYPES + f("F := r2[0,1] * 1000 + r2[0,2] * 100 + r2[1,1] * 10 + r2[2,1];", vars="VAR r2 : Row; END_VAR"), [], 7710),
    ("structures: values of their type and of the variable",
     TYPES + f("F := o.rows[1].a * 100 + o.rows[3].a * 10 + o2.rows[1].a; o2.rows[1] := o.rows[3]; "
               "IF o2.rows[1].b <> 'x' OR o.rows[1].b <> 'ab$'c' THEN F := 0; END_IF;",
               vars="VAR o, o2 : Outer; END_VAR"), [], 121),
    ("enumerations: counted on from a value", TYPES + f("c := blue; F := c = Colour#blue;", "BOOL",
                                                        "VAR c : Colour; END_VAR"), [], True),
    ("a subrange begins with what its type says", TYPES + f("F := v;", vars="VAR v : Level; END_VAR"), [], 3),
    ("constants of others through VAR_EXTERNAL",
     "VAR_GLOBAL CONSTANT at_setpoint : WORD := 16#0030; many : INT := 2 + 3 * 4; END_VAR\n" +
     f("F := WORD_TO_INT(at_setpoint) + many + s[k];", vars="VAR_EXTERNAL CONSTANT at_setpoint : WORD; many : INT; END_VAR "
       "VAR CONSTANT k : INT := 1; END_VAR VAR s : ARRAY [0..k] OF INT := [5, 6]; END_VAR"), [], 48 + 14 + 6),
    ("outputs and variables in and out",
     "FUNCTION G : INT VAR_INPUT a : INT; END_VAR VAR_OUTPUT y : INT; END_VAR VAR_IN_OUT z : INT; END_VAR "
     "y := a * 2; z := z + 1; G := a; END_FUNCTION " +
     f("d2[1] := 10; F := G(a := 3, z := d2[1], y => x) * 100 + x * 10 + d2[1];", vars=V + " VAR d2 : ARRAY [0..1] OF INT; END_VAR"),
     [], 371),
    ("a configuration with a task",
     "PROGRAM P ; END_PROGRAM CONFIGURATION C VAR_GLOBAL CONSTANT k : INT := 3; END_VAR RESOURCE r ON cpu "
     "TASK slow (INTERVAL := T#1s, PRIORITY := 1); PROGRAM p1 WITH slow : P; END_RESOURCE END_CONFIGURATION " +
     f("F := k;", vars="VAR_EXTERNAL CONSTANT k : INT; END_VAR"), [], 3),
]

# (what is shown, program, words of the complaint)
BAD = [
    ("WORDs are not added", f("w := w + w;", vars=V), "+ is not defined for WORD"),
    ("an INT is not shifted", f("F := SHL(x, 1);", vars=V), "SHL is not defined for INT"),
    ("INTs are not masked", f("F := x AND 16#0F;", vars=V), "AND is not defined for INT"),
    ("a DINT becomes no INT by itself", f("F := d;", vars=V), "becomes none by itself"),
    ("an INT becomes no WORD by itself", f("w := x;", vars=V), "becomes none by itself"),
    ("a DINT becomes no REAL by itself", f("r := d;", vars=V), "becomes none by itself"),
    ("an LREAL becomes no REAL by itself", f("r := l;", vars=V), "becomes none by itself"),
    ("signed and unsigned do not meet", f("F := x + u;", vars=V), "no type in common"),
    ("a literal out of range", f("F := 40000;"), "40000 is not in the range of INT"),
    ("a typed literal out of range", f("F := INT#40000;"), "not in the range of INT"),
    ("an unsigned number has no sign", f("F := -u;", "UINT", V), "- is not defined for UINT"),
    ("a condition is BOOL", f("IF x THEN F := 1; END_IF;", vars=V), "INT is no BOOL"),
    ("NOT of a number", f("F := NOT x;", vars=V), "NOT is not defined for INT"),
    ("not declared", f("F := y;"), "y is not declared"),
    ("declared twice, whatever the case", f("F := 1;", vars="VAR a : INT; A : INT; END_VAR"), "A is declared already"),
    ("two functions of one name", f("F := 1;") + f("F := 2;"), "F is declared already"),
    ("a keyword as a name", f("F := 1;", vars="VAR step : INT; END_VAR"), "step is a keyword"),
    ("a keyword of the grammar as a name", f("F := 1;", vars="VAR Exit : INT; END_VAR"), "cannot stand here"),
    ("a standard function as a name", f("F := 1;", vars="VAR limit : INT; END_VAR"), "limit is the name of a standard"),
    ("a double underscore", f("F := 1;", vars="VAR a__b : INT; END_VAR"), "begins nothing"),
    ("a trailing underscore", f("F := 1;", vars="VAR ab_ : INT; END_VAR"), "begins nothing"),
    ("no semicolon behind END_IF", f("IF TRUE THEN F := 1; END_IF"), "cannot stand here"),
    ("no semicolon behind END_STRUCT", "TYPE S : STRUCT a : INT; END_STRUCT END_TYPE", "cannot stand here"),
    ("= in place of :=", f("F = 1;"), "cannot stand here"),
    ("an input is written", f("a := 1; F := a;", vars="VAR_INPUT a : INT; END_VAR"), "a is an input"),
    ("a constant is written", f("a := 1; F := a;", vars="VAR CONSTANT a : INT := 2; END_VAR"), "a is constant"),
    ("a counter is written", f("FOR x := 1 TO 2 DO x := 1; END_FOR; F := 1;", vars=V), "x counts a loop"),
    ("EXIT outside a loop", f("F := 1; EXIT;"), "outside a loop"),
    ("an index that is never there", f("F := a[3];", vars="VAR a : ARRAY [0..2] OF INT; END_VAR"), "index 3 is not in 0..2"),
    ("too many values", f("F := 1;", vars="VAR a : ARRAY [0..1] OF INT := [1, 2, 3]; END_VAR"), "3 values for 2 elements"),
    ("repetition with too many", f("F := 1;", vars="VAR a : ARRAY [0..1] OF INT := [3(0)]; END_VAR"), "3 values for 2"),
    ("no such field", TYPES + f("F := o.d;", vars="VAR o : Inner; END_VAR"), "Inner has no d".upper()[:5]),
    ("a label twice", f("CASE x OF 1: F := 1; 1..2: F := 2; END_CASE;", vars=V), "an earlier one holds already"),
    ("enumerations are not numbers", TYPES + f("F := c;", vars="VAR c : Colour; END_VAR"), "becomes none by itself"),
    ("enumerations have no order", TYPES + f("F := c < blue;", "BOOL", "VAR c : Colour; END_VAR"), "is not defined for COLOUR"),
    ("no such function", f("F := twice(2);"), "there is no function twice"),
    ("an argument is missing", "FUNCTION G : INT VAR_INPUT a, b : INT; END_VAR G := a; END_FUNCTION " + f("F := G(1);"),
     "G needs B"),
    ("arguments of both kinds", "FUNCTION G : INT VAR_INPUT a, b : INT; END_VAR G := a; END_FUNCTION " + f("F := G(1, b := 2);"),
     "all named, or none"),
    ("a function without its result", f("x := 1;", vars=V), "never gets its result"),
    ("a function that calls itself", f("F := F(1);", vars="VAR_INPUT a : INT; END_VAR"), "calls itself"),
    ("a global without VAR_EXTERNAL", "VAR_GLOBAL CONSTANT k : INT := 1; END_VAR " + f("F := k;"), "needs VAR_EXTERNAL"),
    ("a type made of itself", "TYPE A : STRUCT b : B; END_STRUCT; B : STRUCT a : A; END_STRUCT; END_TYPE", "made of itself"),
    ("a text that does not fit", f("F := 1;", vars="VAR s : STRING[2] := 'abc'; END_VAR"), "does not go into STRING[2]"),
    ("division by zero that can be seen", f("F := 1 / 0;"), "division by zero"),
    ("a pragma", "{attribute 'x'} " + f("F := 1;"), "begins nothing"),
    ("units of a duration out of order", f("t := T#1s2m; F := 1;", vars=V), "from the largest to the smallest"),
    ("an open comment", f("F := 1; (* "), "cannot stand here"),
    ("TRUNC of an integer", f("F := TRUNC(x);", vars=V), "TRUNC is not defined for INT"),
    ("a conversion the standard does not have", f("F := TIME_TO_INT(t);", vars=V), "there is no function TIME_TO_INT"),
    ("a number in a REAL that cannot carry it", f("r := 16777217; F := 1;", vars=V), "cannot be carried exactly"),
]

# (what is shown, program, arguments, words of the error when it runs)
FAILING = [
    ("an INT that grows too large", f("x := 32767; F := x + 1;", vars=V), [], "not in the range of INT"),
    ("a REAL too large for a DINT", f("r := 3.0E9; F := REAL_TO_DINT(r);", "DINT", V), [], "not in the range of DINT"),
    ("an index out of its range", f("x := 5; F := a[x];", vars=V + " VAR a : ARRAY [0..2] OF INT; END_VAR"), [], "index 5"),
    ("a subrange left", TYPES + f("x := 11; v := x; F := v;", vars=V + " VAR v : Level; END_VAR"), [], "is not in INT (-10..10)"),
    ("division by zero", f("F := 1 / x;", vars=V), [], "division by zero"),
    ("no digits in BCD", f("w := 16#12A4; u := WORD_BCD_TO_UINT(w); F := 1;", vars=V), [], "no number in BCD"),
    ("upper bits that tools fill differently", f("x := -1; dw := INT_TO_DWORD(x); F := 1;", vars=V), [], "tools differ"),
    ("an argument out of its type", f("F := a;", vars="VAR_INPUT a : INT; END_VAR"), [70000], "not in the range of INT"),
    ("a loop without end", f("WHILE TRUE DO ; END_WHILE; F := 1;"), [], "a loop without end"),
]


def timers():
    """A block keeps what it is from call to call, and timers see the time they are given."""
    machine = Machine.of_text("""
        FUNCTION_BLOCK Late VAR_INPUT asked : BOOL; END_VAR VAR_OUTPUT q : BOOL; edges : INT; END_VAR
        VAR delay : TON; edge : R_TRIG; END_VAR
        delay(IN := asked, PT := T#200ms, Q => q); edge(CLK := delay.Q); IF edge.Q THEN edges := edges + 1; END_IF;
        END_FUNCTION_BLOCK""")
    seen = [machine.call("Late", {"asked": on}, "a", at)[1] for on, at in
            ((True, 0), (True, 199), (True, 200), (True, 300), (False, 310), (True, 320), (True, 520))]
    return [one["Q"] for one in seen] == [False, False, True, True, False, False, True] and seen[-1]["EDGES"] == 2


def main():
    wrong = []
    for what, text, arguments, expected in GOOD:
        try:
            result, _ = Machine.of_text(text).call("F", arguments)
            if result != expected or isinstance(result, bool) != isinstance(expected, bool):
                wrong.append(f"{what}: {result} in place of {expected}")
        except StError as error:
            wrong.append(f"{what}: {error}")
    for what, text, words in BAD:
        complaints = Program({"bad.st": text}).complaints
        if not any(words in line for line in complaints):
            wrong.append(f"{what}: expected '{words}', found {complaints or 'nothing'}")
    for what, text, arguments, words in FAILING:
        try:
            result = Machine.of_text(text).call("F", arguments)
            wrong.append(f"{what}: expected '{words}', found {result}")
        except StError as error:
            if words not in str(error):
                wrong.append(f"{what}: expected '{words}', found {error}")
    if not timers():
        wrong.append("timers and edges")
    print("\n".join(wrong) if wrong else f"{len(GOOD)} good, {len(BAD)} bad and {len(FAILING)} failing programs seen as such")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
