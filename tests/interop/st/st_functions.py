"""The standard functions of IEC 61131-3, edition 3 of 2013, from memory: Tables 22 to 36.

`find(name)` gives a function from the arguments' types to (types wanted, type of the result, what computes it). Where the
standard leaves open what comes out, or tools are known to differ, it is refused: that is what a checker is for.
"""
import math
import re
import struct

from st_parts import operator
from st_types import (BITS, FRACTION, INTEGERS, REALS, SIGNED, TIMES, WHOLE, Enum, StError, Text, common,
                      in_range, limits, plain, rounded)

NUMBERS = set(INTEGERS) | set(REALS) | {WHOLE, FRACTION}
BLOCKS = {"TON", "TOF", "TP", "R_TRIG", "F_TRIG", "SR", "RS", "CTU", "CTD", "CTUD"}


def need(given, allowed, name):
    if given not in allowed:
        raise StError(f"{name} is not defined for {given}")


def half_even(value, target):
    """IEC 60559 as the standard asks: to the nearest, to the even one of two."""
    if math.isnan(value) or math.isinf(value):
        raise StError(f"{value} is no {target}")
    return in_range(round(value), target)


def cut(value, target=None):
    if math.isnan(value) or math.isinf(value):
        raise StError(f"{value} has no whole part")
    return in_range(math.trunc(value), target) if target else math.trunc(value)


def to_bits(value, source, target):
    if value < 0 and INTEGERS[source] < BITS[target]:
        raise StError(f"{source}_TO_{target} of {value}: tools differ in how they fill the upper bits")
    return value & limits(target)[1]


def from_bits(value, target):
    value &= (1 << INTEGERS[target]) - 1
    return value - (1 << INTEGERS[target]) if target in SIGNED and value > limits(target)[1] else value


def conversion(source, target):
    """What *_TO_** computes, or None if the standard has no such function."""
    if source in INTEGERS and target in INTEGERS:
        return lambda x: in_range(x, target)
    if source in INTEGERS and target in REALS:
        return lambda x: rounded(float(x), target)
    if source in REALS and target in INTEGERS:
        return lambda x: half_even(x, target)
    if source in REALS and target in REALS:
        return lambda x: rounded(x, target)
    if source in BITS and target in BITS:
        return (lambda x: bool(int(x) & 1)) if target == "BOOL" else (lambda x: int(x) & limits(target)[1])
    if source in BITS and target in INTEGERS:
        return lambda x: from_bits(int(x), target)
    if source in INTEGERS and target in BITS and target != "BOOL":
        return lambda x: to_bits(x, source, target)
    bits = {("DWORD", "REAL"): ("<I", "<f"), ("LWORD", "LREAL"): ("<Q", "<d"),
            ("REAL", "DWORD"): ("<f", "<I"), ("LREAL", "LWORD"): ("<d", "<Q")}.get((source, target))
    if bits:  # Table 24: binary transfer
        return lambda x: struct.unpack(bits[1], struct.pack(bits[0], x))[0]
    if source in TIMES and target in TIMES:
        return lambda x: x
    return None


def from_bcd(value):
    digits = f"{value:x}"
    if not digits.isdigit():
        raise StError(f"16#{value:X} is no number in BCD")
    return int(digits)


def to_bcd(value, target):
    if value >= 10 ** (BITS[target] // 4):
        raise StError(f"{value} has too many digits for {target} in BCD")
    return int(str(value), 16)


def converting(name):
    """A conversion by its name, or None."""
    word = "|".join(sorted(set(INTEGERS) | set(REALS) | set(BITS) | TIMES))
    found = re.fullmatch(f"({word})_TO_({word})", name)
    if found and found[1] != found[2] and conversion(*found.groups()):
        return lambda given: ([found[1]], found[2], conversion(*found.groups()))
    found = re.fullmatch(f"TO_({word})", name)
    if found:
        def overloaded(given):
            source = {WHOLE: "LINT", FRACTION: "LREAL"}.get(given[0], given[0])
            if not isinstance(source, str) or source == found[1] or not conversion(source, found[1]):
                raise StError(f"{name} is not defined for {given[0]}")
            return [source], found[1], conversion(source, found[1])
        return overloaded
    found = re.fullmatch("(REAL|LREAL)_TRUNC_(U?[SDL]?INT)", name)
    if found:
        return lambda given: ([found[1]], found[2], lambda x: cut(x, found[2]))
    found = re.fullmatch("(BYTE|WORD|DWORD|LWORD)_BCD_TO_(U[SDL]?INT)", name)
    if found:
        return lambda given: ([found[1]], found[2], lambda x: in_range(from_bcd(x), found[2]))
    found = re.fullmatch("(U[SDL]?INT)_TO_BCD_(BYTE|WORD|DWORD|LWORD)", name)
    if found:
        return lambda given: ([found[1]], found[2], lambda x: to_bcd(x, found[2]))
    return None


def real_function(name, compute):
    def typed(given):
        kind = "LREAL" if given[0] in (WHOLE, FRACTION) else given[0]
        need(kind, REALS, name)
        if name == "ATAN2":
            kind = common(kind, given[1])
        def run(*values):
            try:
                return rounded(compute(*values), kind)
            except (ValueError, OverflowError, ZeroDivisionError):
                raise StError(f"{name} of {', '.join(map(str, values))} is no number") from None
        return [kind] * len(given), kind, run
    return typed


def absolute(given):
    kind = plain(given[0])
    need(kind, NUMBERS, "ABS")
    return [kind], kind, (lambda x: in_range(abs(x), kind)) if kind in INTEGERS else abs


def power(given):
    kind = "LREAL" if given[0] == FRACTION else given[0]
    need(kind, REALS, "EXPT or **")
    exponent = {WHOLE: "LINT", FRACTION: "LREAL"}.get(plain(given[1]), plain(given[1]))
    need(exponent, NUMBERS, "the exponent of EXPT or **")

    def run(x, y):
        try:
            value = float(x) ** y
        except (OverflowError, ZeroDivisionError):
            raise StError(f"{x} ** {y} is no number that can be carried") from None
        if isinstance(value, complex):
            raise StError(f"{x} ** {y} is no real number")
        return rounded(value, kind)
    return [kind, exponent], kind, run


def shifting(name):
    def typed(given):
        need(given[0], set(BITS) - {"BOOL"}, name)
        count = "LINT" if plain(given[1]) == WHOLE else plain(given[1])
        need(count, INTEGERS, f"the number of places of {name}")
        width, mask = BITS[given[0]], limits(given[0])[1]

        def run(x, n):
            if n < 0:
                raise StError(f"{name} by {n} places")
            if name == "SHL":
                return (x << n) & mask
            if name == "SHR":
                return x >> n
            n = n % width if name == "ROL" else -n % width
            return ((x << n) | (x >> (width - n))) & mask
        return [given[0], count], given[0], run
    return typed


def all_common(given):
    kind = plain(given[0])
    for other in given[1:]:
        kind = common(kind, other)
    return kind


def alike(name, first, compute):
    """Of one type all of them, but for the first ones, whose types are given."""
    def typed(given):
        kind = all_common(given[len(first):])
        if name in ("MAX", "MIN", "LIMIT") and (isinstance(kind, Enum) or not isinstance(kind, (str, Text))):
            raise StError(f"{name} is not defined for {kind}")
        wanted = [plain(given[i]) if one == "ANY_INT" else one for i, one in enumerate(first)]
        wanted = ["LINT" if one == WHOLE else one for one in wanted]
        for one, asked in zip(wanted, first):
            if asked == "ANY_INT":
                need(one, INTEGERS, f"the selector of {name}")
        return wanted + [kind] * (len(given) - len(first)), kind, compute
    return typed


def choose(k, *values):
    if not 0 <= k < len(values):
        raise StError(f"MUX has no input {k}")
    return values[k]


def comparing(name):
    compute = {"GT": lambda a, b: a > b, "GE": lambda a, b: a >= b, "EQ": lambda a, b: a == b, "LE": lambda a, b: a <= b,
               "LT": lambda a, b: a < b, "NE": lambda a, b: a != b}[name]

    def typed(given):
        kind = all_common(given)
        if isinstance(kind, Enum) and name not in ("EQ", "NE") or not isinstance(kind, (str, Text, Enum)):
            raise StError(f"{name} is not defined for {kind}")
        return [kind] * len(given), "BOOL", compute
    return typed


def text_function(name, others, result, compute):
    def typed(given):
        for one in given[:len(given) - others]:
            if not isinstance(one, Text):
                raise StError(f"{name} is not defined for {one}")
        wanted = [plain(one) for one in given]
        wanted = ["LINT" if one == WHOLE else one for one in wanted]
        for one in wanted[len(given) - others:]:
            need(one, INTEGERS, f"a place in {name}")
        return wanted, result or Text(max(sum(one.length for one in given if isinstance(one, Text)), 80)), compute
    return typed


def arithmetic(name):
    def typed(given):
        kind, run = given[0], None
        for other in given[1:]:
            kind, run = operator(name, kind, other)
        chain = run
        def fold(*values):
            total = values[0]
            for value in values[1:]:
                total = chain(total, value)
            return total
        return [kind] * len(given), kind, fold
    return typed


def _table():
    one, two = ["IN"], ["IN1", "IN2"]
    table = {"ABS": (one, 1, absolute), "EXPT": (two, 2, power), "ATAN2": (["Y", "X"], 2, real_function("ATAN2", math.atan2)),
             "TRUNC": (one, 1, lambda given: (need(given[0], set(REALS) | {FRACTION}, "TRUNC"),
                                              ([given[0]], WHOLE, cut))[1]),
             "MOVE": (one, 1, lambda given: ([given[0]], given[0], lambda x: x)),
             "SEL": (["G", "IN0", "IN1"], 3, alike("SEL", ["BOOL"], lambda g, a, b: b if g else a)),
             "LIMIT": (["MN", "IN", "MX"], 3, alike("LIMIT", [], lambda low, x, high: min(max(x, low), high))),
             "MUX": (["K"] + [f"IN{i}" for i in range(64)], None, alike("MUX", ["ANY_INT"], choose)),
             "LEN": (one, 1, text_function("LEN", 0, "INT", len)),
             "LEFT": (["IN", "L"], 2, text_function("LEFT", 1, None, lambda s, n: s[:n])),
             "RIGHT": (["IN", "L"], 2, text_function("RIGHT", 1, None, lambda s, n: s[max(len(s) - n, 0):])),
             "MID": (["IN", "L", "P"], 3, text_function("MID", 2, None, lambda s, n, p: s[p - 1:p - 1 + n])),
             "CONCAT": ([f"IN{i}" for i in range(1, 64)], None, text_function("CONCAT", 0, None, lambda *s: "".join(s))),
             "FIND": (two, 2, text_function("FIND", 0, "INT", lambda s, t: s.find(t) + 1)),
             "INSERT": (["IN1", "IN2", "P"], 3, text_function("INSERT", 1, None, lambda s, t, p: s[:p] + t + s[p:])),
             "DELETE": (["IN", "L", "P"], 3, text_function("DELETE", 2, None, lambda s, n, p: s[:p - 1] + s[p - 1 + n:])),
             "REPLACE": (["IN1", "IN2", "L", "P"], 4,
                         text_function("REPLACE", 2, None, lambda s, t, n, p: s[:p - 1] + t + s[p - 1 + n:]))}
    for name, compute in (("SQRT", math.sqrt), ("LN", math.log), ("LOG", math.log10), ("EXP", math.exp), ("SIN", math.sin),
                          ("COS", math.cos), ("TAN", math.tan), ("ASIN", math.asin), ("ACOS", math.acos), ("ATAN", math.atan)):
        table[name] = (one, 1, real_function(name, compute))
    for name in ("SHL", "SHR", "ROL", "ROR"):
        table[name] = (["IN", "N"], 2, shifting(name))
    many = [f"IN{i}" for i in range(1, 64)]
    table["MAX"], table["MIN"] = (many, None, alike("MAX", [], max)), (many, None, alike("MIN", [], min))
    for name in ("GT", "GE", "EQ", "LE", "LT", "NE"):
        table[name] = (two, 2, comparing(name))
    for name, sign in (("ADD", "+"), ("MUL", "*"), ("SUB", "-"), ("DIV", "/")):
        table[name] = (many if name in ("ADD", "MUL") else two, None if name in ("ADD", "MUL") else 2, arithmetic(sign))
    return table


TABLE = _table()


def find(name):
    """(names of the parameters, how many or None for two and more, types -> ...) of a standard function, or None."""
    if name in TABLE:
        return TABLE[name]
    typed = converting(name)
    return (["IN"], 1, typed) if typed else None
