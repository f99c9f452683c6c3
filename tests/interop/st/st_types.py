"""The types of IEC 61131-3, their ranges, and what may become what without a conversion being written.

Edition 3 of 2013, from memory: Table 10 (elementary types), Figure 11 (implicit conversions). Nothing that can lose is
implicit. Of an untyped literal only the value counts: it takes the type that is wanted if that can hold it.
"""
import struct

SIGNED = {"SINT": 8, "INT": 16, "DINT": 32, "LINT": 64}
UNSIGNED = {"USINT": 8, "UINT": 16, "UDINT": 32, "ULINT": 64}
INTEGERS = {**SIGNED, **UNSIGNED}
BITS = {"BOOL": 1, "BYTE": 8, "WORD": 16, "DWORD": 32, "LWORD": 64}
REALS = {"REAL": 24, "LREAL": 53}  # binary digits of the fraction
TIMES = {"TIME", "LTIME"}
ELEMENTARY = set(INTEGERS) | set(BITS) | set(REALS) | TIMES
WHOLE, FRACTION = "an integer literal", "a real literal"  # types of what has none yet

WIDER = {
    "SINT": {"INT", "DINT", "LINT", "REAL", "LREAL"}, "INT": {"DINT", "LINT", "REAL", "LREAL"},
    "DINT": {"LINT", "LREAL"}, "LINT": set(),
    "USINT": {"UINT", "UDINT", "ULINT", "INT", "DINT", "LINT", "REAL", "LREAL"},
    "UINT": {"UDINT", "ULINT", "DINT", "LINT", "REAL", "LREAL"}, "UDINT": {"ULINT", "LINT", "LREAL"}, "ULINT": set(),
    "REAL": {"LREAL"}, "LREAL": set(), "TIME": {"LTIME"}, "LTIME": set(),
    "BOOL": set(), "BYTE": {"WORD", "DWORD", "LWORD"}, "WORD": {"DWORD", "LWORD"}, "DWORD": {"LWORD"}, "LWORD": set(),
}


class StError(Exception):
    """What is wrong with a program, and where: (line, column) of the place, or None."""

    def __init__(self, words, place=None):
        super().__init__(words)
        self.words, self.place = words, place


class Text:
    def __init__(self, length=80, wide=False):
        self.length, self.wide = length, wide

    def __str__(self):
        return f"{'W' if self.wide else ''}STRING[{self.length}]"


class Array:
    def __init__(self, bounds, element):
        self.bounds, self.element = bounds, element  # [(lowest, highest), ...]

    def size(self):
        size = 1
        for low, high in self.bounds:
            size *= high - low + 1
        return size

    def __str__(self):
        return f"ARRAY [{', '.join(f'{a}..{b}' for a, b in self.bounds)}] OF {self.element}"


class Struct:
    def __init__(self, name):
        self.name, self.fields = name, {}  # NAME: (type, what makes its first value)

    def __str__(self):
        return self.name


class Enum:
    def __init__(self, name, base):
        self.name, self.base, self.values, self.first = name, base, {}, None

    def __str__(self):
        return self.name


class Subrange:
    def __init__(self, base, low, high):
        self.base, self.low, self.high = base, low, high

    def __str__(self):
        return f"{self.base} ({self.low}..{self.high})"


def limits(kind):
    if kind in SIGNED:
        return -(1 << (SIGNED[kind] - 1)), (1 << (SIGNED[kind] - 1)) - 1
    return 0, (1 << {**UNSIGNED, **BITS}[kind]) - 1


def in_range(value, kind):
    low, high = limits(kind)
    if not low <= value <= high:
        raise StError(f"{value} is not in the range of {kind}, {low} to {high}")
    return value


def single(value):
    """Rounded to the precision of a REAL (binary32 of IEC 60559); beyond its range infinite."""
    try:
        return struct.unpack("<f", struct.pack("<f", value))[0]
    except OverflowError:
        return float("inf") if value > 0 else float("-inf")


def rounded(value, kind):
    return single(value) if kind == "REAL" else value


def as_real(value, kind):
    """A whole number as REAL or LREAL, if it can be carried exactly."""
    if abs(value) > 1 << REALS[kind]:
        raise StError(f"{value} cannot be carried exactly by {kind}")
    return float(value)


def plain(kind):
    """The type that counts in expressions."""
    return kind.base if isinstance(kind, Subrange) else kind


def same(a, b):
    if isinstance(a, Array) and isinstance(b, Array):
        return a.bounds == b.bounds and same(a.element, b.element)
    if isinstance(a, Text) and isinstance(b, Text):
        return a.wide == b.wide and a.length == b.length
    if isinstance(a, Subrange) and isinstance(b, Subrange):
        return (a.base, a.low, a.high) == (b.base, b.low, b.high)
    return a is b or (isinstance(a, str) and a == b)


def copied(kind, value):
    if isinstance(kind, Array):
        return [copied(kind.element, one) for one in value]
    if isinstance(kind, Struct):
        return {name: copied(field, value[name]) for name, (field, _) in kind.fields.items()}
    return value


def fitting(value, have, want):
    """The value of type `have` as one of type `want`; StError if it cannot be without a conversion."""
    return converter(have, want)(value)


def converter(have, want):
    """A function from a value of type `have` to one of type `want`; None of it can lose. StError if there is none."""
    if same(have, want):
        return (lambda value: copied(want, value)) if isinstance(want, (Array, Struct)) else (lambda value: value)
    if isinstance(want, Subrange):
        to_base = converter(have, want.base)

        def checked(value):
            value = to_base(value)
            if not want.low <= value <= want.high:
                raise StError(f"{value} is not in {want}")
            return value
        return checked
    have = plain(have)
    if same(have, want):
        return lambda value: value
    if have == WHOLE:
        if want in INTEGERS or want in BITS and want != "BOOL":
            return lambda value: in_range(value, want)
        if want == "BOOL":
            return lambda value: bool(in_range(value, want))
        if want in REALS:
            return lambda value: as_real(value, want)
    if have == FRACTION and want in REALS:
        return lambda value: rounded(value, want)
    if isinstance(have, str) and isinstance(want, str) and want in WIDER.get(have, ()):
        return float if want in REALS else (lambda value: value)
    if isinstance(have, Text) and isinstance(want, Text) and have.wide == want.wide:
        def short_enough(value):
            if len(value) > want.length:
                raise StError(f"a text of {len(value)} characters does not go into {want}")
            return value
        return short_enough
    raise StError(f"{have} is no {want}, and becomes none by itself")


def common(a, b):
    """The type in which two operands meet."""
    a, b = plain(a), plain(b)
    if same(a, b):
        return a
    if isinstance(a, Text) and isinstance(b, Text) and a.wide == b.wide:
        return a if a.length >= b.length else b
    if {a, b} == {WHOLE, FRACTION} if isinstance(a, str) and isinstance(b, str) else False:
        return FRACTION
    for one, other in ((a, b), (b, a)):
        if one in (WHOLE, FRACTION) and other not in (WHOLE, FRACTION):
            converter(one, other)
            return other
        if isinstance(one, str) and isinstance(other, str) and other in WIDER.get(one, ()):
            return other
    raise StError(f"{a} and {b} have no type in common")
