"""Names, expressions and calls of a body, typed and made into functions of a frame (its variables)."""
import lark

import st_functions
from st_parts import Expr, Leave, Named, Unit, operator, place_of
from st_types import (BITS, FRACTION, INTEGERS, REALS, SIGNED, TIMES, WHOLE, Array, Enum, StError, Struct, Text, common,
                      converter, in_range, plain, same)


def first_of(program, var):
    return var.first() if var.first else program.default(var.kind)


def new_instance(program, unit):
    return {var.name: first_of(program, var) for var in unit.vars.values() if var.role not in ("VAR_EXTERNAL", "VAR_IN_OUT")}


def tree_name(node):
    return node.data if isinstance(node, lark.Tree) else None


class Place:
    """Something that has a value: its type, where it is kept, and why it may not be written, if it may not."""

    def __init__(self, kind, where, read=None, refused=None, name=None):
        self.kind, self.where, self.refused, self.name = kind, where, refused, name
        self.read = read or self.follow

    def follow(self, frame):
        container, key = self.where(frame)
        return container[key]


def fresh_temporaries(program, unit, frame):
    for var in unit.vars.values():
        if var.role == "VAR_TEMP":
            frame[var.name] = first_of(program, var)


def run_unit(unit, frame):
    try:
        unit.run(frame)
    except Leave:
        pass


class Expressions:
    """A part of `Body`."""

    def lookup(self, name):
        return self.vars.get(name)

    def name_place(self, token, writing=False):
        name = token.upper()
        var = self.lookup(name)
        if var is None:
            hint = ", a global: it needs VAR_EXTERNAL here" if name in self.program.globals else ""
            raise StError(f"{token} is not declared{hint}", place_of(token))
        refused = None
        if var.constant:
            refused = f"{token} is constant"
        elif var.role == "VAR_INPUT":
            refused = f"{token} is an input"
        elif name in self.counters:
            refused = f"{token} counts a loop"
        if writing and refused:
            raise StError(f"{refused} and cannot be written", place_of(token))
        if writing and var.role == "RESULT":
            self.unit.assigned = True
        memory = self.program.memory
        if var.role == "VAR_IN_OUT":
            return Place(var.kind, lambda frame: frame[name], refused=refused, name=name)
        if var.role == "VAR_EXTERNAL":
            return Place(var.kind, lambda frame: (memory, name), lambda frame: memory[name], refused, name)
        return Place(var.kind, lambda frame: (frame, name), lambda frame: frame[name], refused, name)

    def place(self, node, writing=False):
        token = node.children[0]
        if token.type == "DIRECT":
            raise StError(f"{token}: what lies at a direct address is not known here", place_of(token))
        place = self.name_place(token, writing)
        for step in node.children[1:]:
            place = self.field(place, step, writing) if step.data == "dot_field" else self.element(place, step)
        return place

    def field(self, place, step, writing):
        name, kind, where = step.children[0].upper(), place.kind, place.where
        if isinstance(kind, Unit):
            var = kind.vars.get(name)
            if var is None or var.role != "VAR_OUTPUT":
                raise StError(f"{kind} has no output {step.children[0]}", place_of(step))
            if writing:
                raise StError(f"the output {step.children[0]} cannot be written", place_of(step))
            inner = var.kind
        elif isinstance(kind, Struct) and name in kind.fields:
            inner = kind.fields[name][0]
        else:
            raise StError(f"{kind} has no {step.children[0]}", place_of(step))

        def inside(frame):
            container, key = where(frame)
            return container[key], name
        return Place(inner, inside, refused=place.refused)

    def element(self, place, step):
        kind, where = place.kind, place.where
        if not isinstance(kind, Array) or len(kind.bounds) != len(step.children):
            raise StError(f"{kind} has no such elements", place_of(step))
        indices = []
        for one, (low, high) in zip(step.children, kind.bounds):
            value = self.expr(one, "LINT")
            if plain(value.kind) not in INTEGERS and value.kind != WHOLE:
                raise StError(f"{value.kind} is no index", place_of(step))
            if value.const is not None and not low <= value.const <= high:
                raise StError(f"index {value.const} is not in {low}..{high}", place_of(step))
            indices.append((value.run, low, high))

        def inside(frame):
            container, key = where(frame)
            flat = 0
            for run, low, high in indices:
                at = run(frame)
                if not low <= at <= high:
                    raise StError(f"index {at} is not in {low}..{high}", place_of(step))
                flat = flat * (high - low + 1) + at - low
            return container[key], flat
        return Place(kind.element, inside, refused=place.refused)

    def enums(self):
        kinds = [found.kind for found in self.program.types.values() if isinstance(found.kind, Enum)]
        return kinds + [var.kind for var in self.vars.values() if isinstance(var.kind, Enum) and var.kind not in kinds]

    def named(self, token, expected):
        """A name alone: a variable, a constant, or a value of an enumeration."""
        name = token.upper()
        var = self.lookup(name)
        if var is not None:
            place = self.name_place(token)
            return Expr(place.kind, place.read, var.value if var.constant else None)
        expected = plain(expected)
        if isinstance(expected, Enum) and name in expected.values:
            return Expr(expected, lambda frame: expected.values[name], expected.values[name])
        found = [kind for kind in self.enums() if name in kind.values]
        if len(found) > 1:
            raise StError(f"{token} is a value of {' and of '.join(map(str, found))}; TYPE#{token} says which", place_of(token))
        if found:
            return Expr(found[0], lambda frame: found[0].values[name], found[0].values[name])
        self.name_place(token)
        return None

    def enum_value(self, token, expected=None):
        name, value = token.upper().split("#")
        found = self.program.named_type(name, place_of(token))
        if not isinstance(found, Named) or not isinstance(found.kind, Enum) or value not in found.kind.values:
            raise StError(f"{token} is no value of an enumeration", place_of(token))
        kind = found.kind
        return Expr(kind, lambda frame: kind.values[value], kind.values[value])

    # Expressions

    def as_type(self, value, kind, node):
        """The expression as one of that type; what is known beforehand is held against its range at once."""
        try:
            if value.kind in (WHOLE, FRACTION) and value.const is not None or isinstance(value.kind, Text) \
                    and value.const is not None:
                fixed = converter(value.kind, kind)(value.const)
                return Expr(kind, lambda frame: fixed, fixed)
            convert = converter(value.kind, kind)
        except StError as error:
            raise StError(error.words, error.place or place_of(node)) from None
        run = value.run
        if same(value.kind, kind) and not isinstance(kind, (Array, Struct)):
            return value
        return Expr(kind, lambda frame: convert(run(frame)), None)

    def expr(self, node, expected=None):
        try:
            return getattr(self, "of_" + node.data.rstrip("_"))(node, expected)
        except StError as error:
            if error.place is None:
                raise StError(error.words, place_of(node)) from None
            raise

    def of_literal(self, node, expected):
        return Expr(*self.literal_of(node.children[0]))

    def of_enum_value(self, node, expected):
        return self.enum_value(node.children[0])

    def of_variable(self, node, expected):
        if len(node.children) == 1 and node.children[0].type == "IDENT":
            return self.named(node.children[0], expected)
        place = self.place(node)
        return Expr(place.kind, place.read)

    def of_call(self, node, expected):
        return self.call(node, statement=False)

    def both(self, node):
        a = self.expr(node.children[0])
        b = self.expr(node.children[2], a.kind)
        if isinstance(b.kind, Enum) and not isinstance(a.kind, Enum):
            a = self.expr(node.children[0], b.kind)
        return a, str(node.children[1]).upper(), b

    def applied(self, node, kind, result, compute, a, b):
        a, b = self.as_type(a, kind, node), self.as_type(b, kind, node)
        return self.computed(node, result, compute, [a, b])

    @staticmethod
    def computed(node, result, compute, values):
        """What `compute` makes of the values; known beforehand if they are."""
        place, runs = place_of(node), [value.run for value in values]

        def run(frame):
            try:
                return compute(*[one(frame) for one in runs])
            except StError as error:
                raise StError(error.words, error.place or place) from None
        if all(value.const is not None for value in values):
            return Expr(result, run, run(None))
        return Expr(result, run)

    def arithmetic(self, node, a, sign, b):
        if plain(a.kind) in TIMES if isinstance(plain(a.kind), str) else False:
            if sign in "*/" and (plain(b.kind) in INTEGERS or plain(b.kind) in REALS or b.kind in (WHOLE, FRACTION)):
                def scale(x, y):
                    if sign == "/" and y == 0:
                        raise StError("division by zero")
                    return int(x * y) if sign == "*" else int(x / y)
                return self.computed(node, plain(a.kind), scale, [a, b])
        kind, compute = operator(sign, a.kind, b.kind)
        return self.applied(node, kind, kind, compute, a, b)

    def of_sum(self, node, expected):
        return self.arithmetic(node, *self.both(node))

    of_term = of_sum

    def of_power(self, node, expected):
        a, b = self.expr(node.children[0]), self.expr(node.children[1])
        return self.standard(node, "EXPT", [a, b])

    def logic(self, node, compute):
        a, sign, b = self.both(node)
        kind = common(a.kind, b.kind)
        if kind not in BITS:
            raise StError(f"{sign} is not defined for {kind}")
        return self.applied(node, kind, kind, compute, a, b)

    def of_or(self, node, expected):
        return self.logic(node, lambda x, y: x | y)

    def of_xor(self, node, expected):
        return self.logic(node, lambda x, y: x ^ y)

    def of_and(self, node, expected):
        return self.logic(node, lambda x, y: x & y)

    def of_comparison(self, node, expected):
        a, sign, b = self.both(node)
        name = {"=": "EQ", "<>": "NE", "<": "LT", "<=": "LE", ">": "GT", ">=": "GE"}[sign]
        return self.standard(node, name, [a, b])

    of_equality = of_comparison

    def of_negative(self, node, expected):
        value = self.expr(node.children[0], expected)
        kind = plain(value.kind)
        if kind in SIGNED:
            return self.computed(node, kind, lambda x: in_range(-x, kind), [value])
        if kind in (WHOLE, FRACTION) or kind in REALS or kind in TIMES:
            return self.computed(node, kind, lambda x: -x, [value])
        raise StError(f"- is not defined for {kind}")

    def of_positive(self, node, expected):
        value = self.expr(node.children[0], expected)
        if plain(value.kind) not in INTEGERS and plain(value.kind) not in REALS and value.kind not in (WHOLE, FRACTION):
            raise StError(f"+ is not defined for {value.kind}")
        return value

    def of_complement(self, node, expected):
        value = self.expr(node.children[0], expected)
        kind = value.kind
        if kind == "BOOL":
            return self.computed(node, kind, lambda x: not x, [value])
        if isinstance(kind, str) and kind in BITS:
            return self.computed(node, kind, lambda x: ~x & ((1 << BITS[kind]) - 1), [value])
        raise StError(f"NOT is not defined for {kind}")

    # Calls

    def call(self, node, statement):
        token = node.children[0]
        name, given = token.upper(), [one for one in node.children[1:] if one is not None]
        var = self.lookup(name)
        if var is not None and isinstance(var.kind, Unit):
            if not statement:
                raise StError(f"{token} is an instance and has no value", place_of(token))
            return self.block_call(node, self.name_place(token), var.kind, given)
        if statement and name not in self.program.units:
            # A function's result may be thrown away only if there is none (edition 3, 6.6.1.6).
            raise StError(f"{token} is no instance of a block", place_of(token))
        unit = self.program.units.get(name)
        if unit is not None and unit.sort == "function":
            if self.unit:
                self.unit.calls.add(name)
            if not statement and unit.result is None:
                raise StError(f"{token} has no result", place_of(token))
            if statement and unit.result is not None:
                raise StError(f"the result of {token} is thrown away", place_of(token))
            return self.unit_call(node, unit, given)
        if st_functions.find(name) is None:
            raise StError(f"there is no function {token}", place_of(token))
        return self.standard(node, name, self.standard_arguments(node, name, given))

    def standard_arguments(self, node, name, given):
        names = st_functions.find(name)[0]
        values, kinds = {}, None
        for at, one in enumerate(given):
            if one.data == "output_argument":
                raise StError(f"{name} has no such output", place_of(one))
            key, value = at, one.children[0]
            if one.data == "named_argument":
                if one.children[0].upper() not in names:
                    raise StError(f"{name} has no input {one.children[0]}", place_of(one))
                key, value = names.index(one.children[0].upper()), one.children[1]
            if key in values:
                raise StError(f"an input of {name} stands twice", place_of(one))
            values[key] = self.expr(value, kinds)
            kinds = values[key].kind
        if {one.data for one in given} == {"argument", "named_argument"}:
            raise StError("arguments are all named, or none", place_of(node))
        if sorted(values) != list(range(len(values))):
            raise StError(f"an input of {name} is missing", place_of(node))
        return [values[key] for key in sorted(values)]

    def standard(self, node, name, values):
        names, count, typed = st_functions.find(name)
        if count is not None and len(values) != count or count is None and len(values) < 2:
            raise StError(f"{name} of {len(values)} values, expected {count or 'two or more'}", place_of(node))
        wanted, result, compute = typed([value.kind for value in values])
        values = [self.as_type(value, kind, node) for value, kind in zip(values, wanted)]
        return self.computed(node, result, compute, values)

    def arguments(self, node, unit, given):
        """([(name, what gives its value)], [(name, negated, place to go)]) of a call of a unit."""
        inputs, outputs, by_name = [], [], {var.name: var for var in unit.inputs()}
        if {one.data for one in given} >= {"argument"} and len({one.data for one in given}) > 1:
            raise StError("arguments are all named, or none", place_of(node))
        order = list(by_name)
        for at, one in enumerate(given):
            if one.data == "output_argument":
                negated, token, target = one.children
                var = unit.vars.get(token.upper())
                if var is None or var.role != "VAR_OUTPUT":
                    raise StError(f"{unit} has no output {token}", place_of(one))
                place = self.place(target, writing=True)
                if negated is not None and var.kind != "BOOL":
                    raise StError(f"NOT is not defined for {var.kind}", place_of(one))
                outputs.append((var.name, negated is not None, place, converter(var.kind, place.kind)))
                continue
            if one.data == "named_argument":
                name, value = one.children[0].upper(), one.children[1]
            else:
                if at >= len(order):
                    raise StError(f"{unit} has {len(order)} inputs", place_of(node))
                name, value = order[at], one.children[0]
            if name not in by_name:
                raise StError(f"{unit} has no input {name}", place_of(one))
            if name in (known for known, _ in inputs):
                raise StError(f"{name} stands twice", place_of(one))
            inputs.append((name, self.input(by_name[name], value)))
        missing = [name for name in order if name not in {known for known, _ in inputs}]
        needed = [name for name in missing if by_name[name].role == "VAR_IN_OUT"]
        if needed or missing and given and given[0].data == "argument":
            raise StError(f"{unit} needs {', '.join(needed or missing)}", place_of(node))
        return inputs, outputs

    def input(self, var, node):
        if var.role != "VAR_IN_OUT":
            return self.as_type(self.expr(node, var.kind), var.kind, node).run
        if tree_name(node) != "variable":
            raise StError(f"{var.name} is in and out: expected a variable", place_of(node))
        place = self.place(node, writing=True)
        if not same(place.kind, var.kind):
            raise StError(f"{place.kind} is no {var.kind}", place_of(node))
        return place.where

    @staticmethod
    def hand_out(frame, inner, outputs):
        for name, negated, place, convert in outputs:
            container, key = place.where(frame)
            container[key] = not inner[name] if negated else convert(inner[name])

    def unit_call(self, node, unit, given):
        inputs, outputs = self.arguments(node, unit, given)

        def run(frame):
            inner = new_instance(self.program, unit)
            for name, value in inputs:
                inner[name] = value(frame)
            run_unit(unit, inner)
            self.hand_out(frame, inner, outputs)
            return inner.get(unit.name)
        return Expr(unit.result, run)

    def block_call(self, node, place, unit, given):
        inputs, outputs = self.arguments(node, unit, given)
        if self.unit and unit.native is None:
            self.unit.calls.add(unit.name)

        def run(frame):
            inner = place.read(frame)
            for name, value in inputs:
                inner[name] = value(frame)
            if unit.native:
                unit.native(inner, self.program.now)
            else:
                fresh_temporaries(self.program, unit, inner)
                run_unit(unit, inner)
            self.hand_out(frame, inner, outputs)
        return Expr(None, run)
