"""What a program is made of once it is read: expressions, variables, units; and the operators of arithmetic."""
import lark

from st_types import FRACTION, INTEGERS, REALS, TIMES, WHOLE, StError, common, in_range, plain, single

MOST_ROUNDS = 10_000_000


class Named:
    def __init__(self, kind, first):
        self.kind, self.first = kind, first


class Leave(Exception):
    pass


class Return(Leave):
    pass


class Exit(Leave):
    pass


class Continue(Leave):
    pass


class Expr:
    """An expression: its type, what computes it in a frame, its value where that is known beforehand."""

    def __init__(self, kind, run, const=None):
        self.kind, self.run, self.const = kind, run, const


class Var:
    def __init__(self, name, kind, role, first, place, constant=False):
        self.name, self.kind, self.role, self.first, self.place, self.constant = name, kind, role, first, place, constant
        self.value = None  # of a constant


class Unit:
    """A function, a function block or a program."""

    def __init__(self, name, sort, node):
        self.name, self.sort, self.node = name, sort, node
        self.vars, self.result, self.run, self.calls, self.native, self.assigned = {}, None, None, set(), None, False

    def __str__(self):
        return self.name

    def inputs(self):
        return [var for var in self.vars.values() if var.role in ("VAR_INPUT", "VAR_IN_OUT")]


def place_of(node):
    if isinstance(node, lark.Token):
        return node.line, node.column
    return (node.meta.line, node.meta.column) if hasattr(node, "meta") and not node.meta.empty else None


def operator(sign, a, b):
    """(type of the result, what computes it of two values of the types a and b brought to it)."""
    if plain(a) in TIMES if isinstance(plain(a), str) else False:
        if sign in "+-" and plain(b) in TIMES:
            kind = common(a, b)
            return kind, (lambda x, y: x + y) if sign == "+" else (lambda x, y: x - y)
    kind = common(a, b)
    if kind in REALS or kind == FRACTION:
        compute = {"+": lambda x, y: x + y, "-": lambda x, y: x - y, "*": lambda x, y: x * y, "/": divided_real}.get(sign)
        if compute is None:
            raise StError(f"{sign} is not defined for {kind}")
        return kind, (lambda x, y: single(compute(x, y))) if kind == "REAL" else compute
    if kind in INTEGERS or kind == WHOLE:
        compute = {"+": lambda x, y: x + y, "-": lambda x, y: x - y, "*": lambda x, y: x * y, "/": divided,
                   "MOD": lambda x, y: x - divided(x, y) * y}[sign]
        return kind, compute if kind == WHOLE else lambda x, y: in_range(compute(x, y), kind)
    raise StError(f"{sign} is not defined for {kind}")


def divided(x, y):
    if y == 0:
        raise StError("division by zero")
    return abs(x) // abs(y) * (1 if (x < 0) == (y < 0) else -1)


def divided_real(x, y):
    if y == 0:
        raise StError("division by zero")
    return x / y
