"""Structured Text read, checked and made into something that can be called.

Everything is typed before anything runs: a program that is not well typed is refused also where it would never come.
"""
import math
import os
import re

import lark

import st_functions
from st_types import (BITS, ELEMENTARY, FRACTION, INTEGERS, REALS, SIGNED, TIMES, WHOLE, Array, Enum, StError, Struct,
                      Subrange, Text, as_real, common, converter, copied, in_range, limits, plain, rounded, same, single)

# Words no identifier may be: keywords of editions 2 and 3 that the grammar does not name, names of standard functions
# and blocks, which edition 2 counts among the keywords (Annex C there).
RESERVED = set("""ABSTRACT ACTION ANY ANY_BIT ANY_DATE ANY_DERIVED ANY_ELEMENTARY ANY_INT ANY_MAGNITUDE ANY_NUM ANY_REAL
ANY_STRING CHAR CLASS CONTINUE DATE DATE_AND_TIME DT EN END_ACTION END_CLASS END_INTERFACE END_METHOD END_NAMESPACE END_STEP
END_TRANSITION ENO EXTENDS FINAL FROM F_EDGE IMPLEMENTS INITIAL_STEP INTERFACE INTERNAL INTERVAL LDATE LDT LTOD METHOD MOD
NAMESPACE NULL OVERLAP OVERRIDE PRIORITY PRIVATE PROTECTED PUBLIC READ_ONLY READ_WRITE REF REF_TO R_EDGE SINGLE STEP SUPER
THIS TIME_OF_DAY TOD TRANSITION USING VAR_ACCESS VAR_CONFIG WCHAR""".split())
CHECK_WORDS = {"SINGLE", "INTERVAL", "PRIORITY"}  # names of the inputs of a task
MOST_ROUNDS = 10_000_000

HERE = os.path.dirname(os.path.abspath(__file__))


def parser(cached={}):
    if not cached:
        with open(os.path.join(HERE, "iec_61131_3.lark"), encoding="utf-8") as grammar:
            cached["parser"] = lark.Lark(grammar.read(), parser="lalr", lexer="basic", propagate_positions=True,
                                         maybe_placeholders=True)
    return cached["parser"]


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


def integer(text):
    text = text.replace("_", "")
    if "#" in text:
        base, digits = text.split("#")
        return int(digits, int(base))
    return int(text)


def duration(text):
    """In nanoseconds."""
    head, rest = text.upper().split("#")
    sign = -1 if rest.startswith("-") else 1
    steps = {"D": 86_400_000_000_000, "H": 3_600_000_000_000, "M": 60_000_000_000, "S": 1_000_000_000, "MS": 1_000_000,
             "US": 1_000, "NS": 1}
    total, last = 0, None
    parts = re.findall(r"([0-9][0-9_]*(?:\.[0-9_]+)?)(MS|US|NS|D|H|M|S)", rest)
    for i, (number, unit) in enumerate(parts):
        if last is not None and steps[unit] >= last:
            raise StError(f"{text}: units stand from the largest to the smallest")
        if "." in number and i + 1 < len(parts):
            raise StError(f"{text}: only the last part may have a fraction")
        last = steps[unit]
        whole, _, fraction = number.replace("_", "").partition(".")
        total += int(whole) * last + (int(fraction) * last // 10 ** len(fraction) if fraction else 0)
    return ("LTIME" if head.startswith("L") else "TIME"), sign * total


def characters(text):
    quote, body = text[0], text[1:-1]
    digits = 2 if quote == "'" else 4
    names = {"L": "\n", "N": "\n", "P": "\f", "R": "\r", "T": "\t"}

    def one(found):
        code = found[1].upper()
        return names.get(code, code) if len(code) == 1 else chr(int(code, 16))
    return re.sub(rf"\$([$'\"LNPRTlnprt]|[0-9A-Fa-f]{{{digits}}})", one, body)


def literal(token):
    kind, text = token.type, str(token)
    if kind == "INTEGER":
        return WHOLE, integer(text)
    if kind == "REAL":
        return FRACTION, float(text.replace("_", ""))
    if kind == "BOOLEAN":
        return "BOOL", text.upper() == "TRUE"
    if kind == "DURATION":
        return duration(text)
    if kind in ("STRING", "TYPED_STRING"):
        text = text[text.index("#") + 1:] if kind == "TYPED_STRING" else text
        value = characters(text)
        return Text(len(value), text[0] == '"'), value
    name, rest = text.upper().split("#", 1)
    if kind == "TYPED_BOOL":
        return "BOOL", rest in ("1", "TRUE")
    if kind == "TYPED_REAL":
        return name, rounded(float(rest.replace("_", "")), name)
    sign = -1 if rest.startswith("-") else 1
    return name, in_range(sign * integer(rest.lstrip("+-")), name)


class Program:
    """All files together: types, globals, units. `complaints` says what is wrong with them; nothing may be called then."""

    def __init__(self, texts):
        """texts: {file name: text}"""
        self.complaints, self.types, self.type_nodes, self.globals, self.units = [], {}, {}, {}, {}
        self.file, self.of_file, self.memory, self.now = None, {}, {}, 0
        self.building = []
        trees = []
        for name, text in texts.items():
            self.file = name
            try:
                trees.append((name, parser().parse(text)))
            except lark.exceptions.UnexpectedToken as error:
                expected = ", ".join(sorted(error.expected)[:8])
                self.complain((error.line, error.column), f"'{error.token}' cannot stand here; expected {expected}")
            except lark.exceptions.UnexpectedCharacters as error:
                self.complain((error.line, error.column), f"'{text[error.pos_in_stream]}' begins nothing")
            except lark.exceptions.UnexpectedEOF:
                self.complain(None, "ends too early")
        if self.complaints:
            return
        self.declare_natives()
        for name, tree in trees:
            self.file = name
            self.check_words(tree)
            self.collect(tree)
        for name, tree in trees:
            self.file = name
            for node in tree.children:
                self.guarded(node, self.finish, node)
        for name in list(self.type_nodes):
            self.guarded(self.type_nodes[name][0], self.named_type, name, None)
        from st_body import Body
        bodies = [Body(self, unit) for unit in self.units.values() if unit.native is None]
        for step in (Body.declare, Body.compile):
            for body in bodies:
                self.file = self.of_file[body.unit.name]
                self.guarded(body.unit.node, step, body)
        self.check_recursion()

    # What is wrong

    def complain(self, place, words):
        where = f"{self.file}:{place[0]}:{place[1]}" if place else f"{self.file}"
        if f"{where}: {words}" not in self.complaints:
            self.complaints.append(f"{where}: {words}")

    def guarded(self, node, call, *arguments):
        try:
            return call(*arguments)
        except StError as error:
            self.complain(error.place or place_of(node), error.words)
            return None

    def check_words(self, tree):
        for token in tree.scan_values(lambda value: isinstance(value, lark.Token) and value.type == "IDENT"):
            name = token.upper()
            if name in RESERVED and name not in CHECK_WORDS:
                self.complain((token.line, token.column), f"{token} is a keyword and no name")

    def free_name(self, token, scope):
        name = token.upper()
        place = (token.line, token.column)
        if st_functions.find(name) or name in st_functions.BLOCKS and not token.line == 0:
            self.complain(place, f"{token} is the name of a standard function or block")
        if name in scope:
            self.complain(place, f"{token} is declared already")
            return None
        return name

    # Declarations

    def collect(self, tree):
        for node in tree.children:
            if node.data == "type_block":
                for one in node.children:
                    name = self.free_name(one.children[0], {**self.type_nodes, **self.units})
                    if name:
                        self.type_nodes[name] = (one, self.file)
            elif node.data in ("function", "function_block", "program"):
                name = self.free_name(node.children[0], {**self.type_nodes, **self.units})
                if name:
                    self.units[name] = Unit(name, node.data, node)
                    self.of_file[name] = self.file

    def finish(self, node):
        if node.data == "globals":
            self.declare_globals(node)
        elif node.data == "configuration":
            for one in node.iter_subtrees_topdown():
                if one.data == "globals":
                    self.declare_globals(one)
                elif one.data == "instance" and one.children[2].upper() not in self.units:
                    self.complain(place_of(one), f"{one.children[2]} is no program")

    def declare_globals(self, node):
        constant = node.children[0] is not None and node.children[0].upper() == "CONSTANT"
        for decl in node.children[1:]:
            for token in decl.children[0].children:
                name = self.free_name(token, self.globals)
                if name:
                    var = self.guarded(decl, self.variable, token, decl, "VAR_GLOBAL", constant, {})
                    if var:
                        self.globals[name] = var
                        self.memory[name] = var.first() if var.first else self.default(var.kind)
                        var.value = self.memory[name] if constant else None

    def variable(self, token, decl, role, constant, scope):
        kind, first = self.spec(decl.children[2], scope)
        if constant and not self.has_initial(decl.children[2]) and role != "VAR_EXTERNAL":
            raise StError(f"the constant {token} has no value", place_of(decl))
        return Var(token.upper(), kind, role, first, place_of(token), constant)

    @staticmethod
    def has_initial(spec):
        return spec.children[-1] is not None and isinstance(spec.children[-1], lark.Tree) and \
            spec.children[-1].data == "initial"

    # Types

    def named_type(self, name, place):
        name = name.upper()
        if name in self.types:
            return self.types[name]
        if name in self.units and self.units[name].sort == "function_block":
            return self.units[name]
        if name not in self.type_nodes:
            raise StError(f"{name} is no type", place)
        if name in self.building:
            raise StError(f"the type {name} is made of itself", place)
        self.building.append(name)
        node, file = self.type_nodes[name]
        kept, self.file = self.file, file
        try:
            self.types[name] = self.build(name, node.children[1])
        finally:
            self.building.pop()
            self.file = kept
        return self.types[name]

    def build(self, name, body):
        if body.data == "struct_decl":
            struct = Struct(name)
            for one in body.children:
                field = one.children[0].upper()
                if field in struct.fields:
                    self.complain(place_of(one), f"{one.children[0]} is declared already")
                    continue
                kind, first = self.spec(one.children[1], {})
                struct.fields[field] = (kind, first or (lambda kind=kind: self.default(kind)))
            return Named(struct, None)
        kind, first = self.spec(body, {}, name)
        return Named(kind, first)

    def spec(self, node, scope, name=None):
        """(type, what makes the first value or None) of what stands behind a colon."""
        initial = node.children[-1] if self.has_initial(node) else None
        kind, first = self.type_of(node.children[0], scope, name)
        if initial is not None:
            first = self.initial(kind, initial.children[0], scope)
        return kind, first

    def type_of(self, node, scope, name=None):
        if node.data == "elementary":
            return node.children[0].upper(), None
        if node.data == "named_type":
            found = self.named_type(node.children[0], place_of(node))
            return (found.kind, found.first) if isinstance(found, Named) else (found, None)
        if node.data == "string_spec":
            length = node.children[1]
            length = 80 if length is None else self.whole(length, scope)
            if not 1 <= length <= 65535:
                raise StError(f"a text of {length} characters", place_of(node))
            return Text(length, node.children[0].upper() == "WSTRING"), None
        if node.data == "subrange_spec":
            base = node.children[0].children[0].upper()
            if base not in INTEGERS:
                raise StError(f"{base} has no subranges", place_of(node))
            low, high = (in_range(self.whole(one, scope), base) for one in node.children[1].children)
            if low > high:
                raise StError(f"a range from {low} to {high}", place_of(node))
            kind = Subrange(base, low, high)
            return kind, None
        if node.data == "array_spec":
            bounds = [tuple(self.whole(one, scope) for one in pair.children) for pair in node.children[:-1]]
            for low, high in bounds:
                if low > high:
                    raise StError(f"an array from {low} to {high}", place_of(node))
            element, first = self.type_of(node.children[-1], scope)
            array = Array(bounds, element)
            make = first or (lambda: self.default(element))
            return array, lambda: [make() for _ in range(array.size())]
        return self.enum(node, scope, name or "an enumeration"), None

    def enum(self, node, scope, name):
        base = node.children[0].children[0].upper() if node.children[0] is not None else None
        if base is not None and base not in INTEGERS and base not in BITS:
            raise StError(f"{base} cannot carry an enumeration", place_of(node))
        kind, following = Enum(name, base), 0
        for item in node.children[1:]:
            token, value = item.children
            if value is not None:
                following = self.whole(value, scope)
            if base:
                in_range(following, base)
            if token.upper() in kind.values:
                raise StError(f"{token} is declared already", place_of(item))
            if following in kind.values.values():
                raise StError(f"{token} has the value of another", place_of(item))
            kind.values[token.upper()] = following
            following += 1
        kind.first = next(iter(kind.values.values()))
        return kind

    def whole(self, node, scope):
        value = self.constant_expr(node, scope)
        if plain(value.kind) not in INTEGERS and plain(value.kind) != WHOLE or value.const is None:
            raise StError("expected a whole number that is known beforehand", place_of(node))
        return value.const

    def constant_expr(self, node, scope, expected=None):
        from st_body import Body
        return Body(self, None, scope).expr(node, expected)

    def default(self, kind):
        if isinstance(kind, Subrange):
            return kind.low
        if isinstance(kind, Text):
            return ""
        if isinstance(kind, Array):
            return [self.default(kind.element) for _ in range(kind.size())]
        if isinstance(kind, Struct):
            return {name: make() for name, (_, make) in kind.fields.items()}
        if isinstance(kind, Enum):
            return kind.first
        if isinstance(kind, Unit):
            from st_body import new_instance
            return new_instance(self, kind)
        return False if kind == "BOOL" else 0.0 if kind in REALS else 0

    def initial(self, kind, node, scope):
        """What makes the value that an initialiser gives to something of that type."""
        if isinstance(node, lark.Tree) and node.data == "array_value":
            return self.initial_array(kind, node, scope)
        if isinstance(node, lark.Tree) and node.data == "struct_value":
            return self.initial_struct(kind, node, scope)
        value = self.constant_expr(node, scope, kind)
        if value.const is None:
            raise StError("expected a value that is known beforehand", place_of(node))
        try:
            fixed = converter(value.kind, kind)(value.const)
        except StError as error:
            raise StError(error.words, place_of(node)) from None
        return lambda: copied(kind, fixed)

    def initial_array(self, kind, node, scope):
        if not isinstance(kind, Array):
            raise StError(f"a list of values for {kind}", place_of(node))
        makers = []
        for item in node.children:
            if isinstance(item, lark.Tree) and item.data == "repeated":
                inner = [self.initial(kind.element, one, scope) for one in item.children[1:] if one is not None]
                makers += (inner or [lambda: self.default(kind.element)]) * integer(item.children[0])
            else:
                makers.append(self.initial(kind.element, item, scope))
        if len(makers) > kind.size():
            raise StError(f"{len(makers)} values for {kind.size()} elements", place_of(node))
        rest = kind.size() - len(makers)
        return lambda: [make() for make in makers] + [self.default(kind.element) for _ in range(rest)]

    def initial_struct(self, kind, node, scope):
        fields = {}
        if isinstance(kind, Unit):
            known = {var.name: var.kind for var in kind.vars.values() if var.role == "VAR_INPUT"}
        elif isinstance(kind, Struct):
            known = {name: field for name, (field, _) in kind.fields.items()}
        else:
            raise StError(f"named values for {kind}", place_of(node))
        for item in node.children:
            name = item.children[0].upper()
            if name not in known:
                raise StError(f"{kind} has no {item.children[0]}", place_of(item))
            if name in fields:
                raise StError(f"{item.children[0]} stands twice", place_of(item))
            fields[name] = self.initial(known[name], item.children[1], scope)

        def make():
            value = self.default(kind)
            for name, maker in fields.items():
                value[name] = maker()
            return value
        return make

    # Standard function blocks

    def declare_natives(self):
        from st_blocks import NATIVE
        for name, (inputs, outputs, run) in NATIVE.items():
            unit = Unit(name, "function_block", None)
            unit.native = run
            for role, given in (("VAR_INPUT", inputs), ("VAR_OUTPUT", outputs), ("VAR", {"_WAS": "BOOL", "_SINCE": "TIME"})):
                for one, kind in given.items():
                    unit.vars[one] = Var(one, kind, role, None, None)
            self.units[name] = unit

    def check_recursion(self):
        def visit(unit, trail):
            if unit.name in trail:
                self.file = self.of_file[unit.name]
                self.complain(place_of(unit.node), f"{unit.name} calls itself: {' -> '.join(trail + [unit.name])}")
                return
            for name in unit.calls:
                visit(self.units[name], trail + [unit.name])
        for unit in self.units.values():
            if not any(unit.name in line for line in self.complaints):
                visit(unit, [])


class Named:
    def __init__(self, kind, first):
        self.kind, self.first = kind, first
