"""The body of a unit: its variables and statements, made into functions of a frame."""
from st_expressions import Expressions, first_of
from st_literals import integer, literal
from st_parts import MOST_ROUNDS, Continue, Exit, Expr, Return, Unit, Var, place_of
from st_types import INTEGERS, WHOLE, Enum, StError, converter, plain, same


class Body(Expressions):
    def __init__(self, program, unit, scope=None):
        self.program, self.unit = program, unit
        self.vars = unit.vars if unit else (scope or {})
        self.loops, self.counters = 0, []

    # Declarations

    def declare(self):
        unit, program = self.unit, self.program
        parts = unit.node.children[1:]
        if unit.sort == "function":
            if parts[0] is not None:
                unit.result, first = program.type_of(parts[0], {})
                unit.vars[unit.name] = Var(unit.name, unit.result, "RESULT", first, place_of(unit.node))
            parts = parts[1:]
        for block in parts[:-1]:
            role, word = block.children[0].upper(), block.children[1]
            constant = word is not None and word.upper() == "CONSTANT"
            if constant and role not in ("VAR", "VAR_EXTERNAL"):
                program.complain(place_of(block), f"{role} has no CONSTANT")
            for decl in block.children[2:]:
                for token in decl.children[0].children:
                    if token.upper() in unit.vars:
                        program.complain(place_of(token), f"{token} is declared already")
                    elif program.free_name(token, {}):
                        program.guarded(decl, self.declare_one, token, decl, role, constant)

    def declare_one(self, token, decl, role, constant):
        program, unit, name = self.program, self.unit, token.upper()
        if name in program.units and program.units[name].sort == "function":
            raise StError(f"{token} is the name of a function", place_of(token))
        if role == "VAR_EXTERNAL":
            outside = program.globals.get(name)
            if outside is None:
                raise StError(f"there is no global {token}", place_of(token))
            kind, _ = program.spec(decl.children[2], {})
            if not same(kind, outside.kind) or constant != outside.constant:
                raise StError(f"{token} is declared otherwise as a global", place_of(token))
            unit.vars[name] = Var(name, outside.kind, role, None, place_of(token), constant)
            unit.vars[name].value = outside.value
            return
        var = program.variable(token, decl, role, constant, unit.vars)
        if isinstance(var.kind, Unit) and (unit.sort == "function" or var.kind.sort != "function_block"):
            raise StError(f"{unit.name} cannot have an instance of {var.kind}", place_of(token))
        if constant:
            var.value = first_of(program, var)
        unit.vars[name] = var

    def compile(self):
        unit = self.unit
        unit.run = self.block(unit.node.children[-1])
        if unit.result is not None and not unit.assigned:
            self.program.complain(place_of(unit.node), f"{unit.name} never gets its result")

    # Statements

    def block(self, node):
        steps = [step for step in (self.program.guarded(one, self.statement, one) for one in node.children
                                   if one is not None) if step]
        return self.row(steps)

    @staticmethod
    def row(steps):
        if len(steps) == 1:
            return steps[0]

        def run(frame):
            for step in steps:
                step(frame)
        return run

    def statement(self, node):
        return getattr(self, "do_" + node.data.rstrip("_"))(node)

    def do_assignment(self, node):
        place = self.place(node.children[0], writing=True)
        value = self.as_type(self.expr(node.children[1], place.kind), place.kind, node.children[1])
        where, run = place.where, value.run

        def assign(frame):
            got = run(frame)
            container, key = where(frame)
            container[key] = got
        return assign

    def do_invocation(self, node):
        call = self.call(node.children[0], statement=True)
        return lambda frame: call.run(frame)

    def do_exit(self, node):
        return self.leaving(Exit, node)

    def do_continue(self, node):
        return self.leaving(Continue, node)

    def leaving(self, how, node):
        if not self.loops:
            raise StError(f"{how.__name__.upper()} outside a loop", place_of(node))

        def leave(frame):
            raise how
        return leave

    def do_return(self, node):
        def leave(frame):
            raise Return
        return leave

    def condition(self, node):
        return self.as_type(self.expr(node, "BOOL"), "BOOL", node).run

    def do_if(self, node):
        parts, branches = list(node.children), []
        last = parts.pop()
        for i in range(0, len(parts), 2):
            branches.append((self.condition(parts[i]), self.block(parts[i + 1])))
        otherwise = self.block(last.children[0]) if last is not None else lambda frame: None

        def run(frame):
            for condition, body in branches:
                if condition(frame):
                    return body(frame)
            return otherwise(frame)
        return run

    def do_case(self, node):
        selector = self.expr(node.children[0])
        kind = plain(selector.kind)
        if kind not in INTEGERS and not isinstance(kind, Enum):
            raise StError(f"CASE of {kind}", place_of(node))
        branches, taken = [], []
        for one in node.children[1:-1]:
            if one is None:
                continue
            if one.data == "case_labels":
                branches.append(([self.label(label, kind, taken) for label in one.children], []))
            else:
                step = self.program.guarded(one, self.statement, one)
                branches[-1][1].append(step or (lambda frame: None))
        branches = [(labels, self.row(steps)) for labels, steps in branches]
        last = node.children[-1]
        otherwise = self.block(last.children[0]) if last is not None else lambda frame: None

        def run(frame):
            value = selector.run(frame)
            for labels, body in branches:
                if any(low <= value <= high for low, high in labels):
                    return body(frame)
            return otherwise(frame)
        return run

    def label(self, node, kind, taken):
        ends = [self.label_value(one, kind) for one in node.children if one is not None]
        low, high = ends[0], ends[-1]
        if low > high or isinstance(kind, Enum) and len(ends) > 1:
            raise StError("a range that holds nothing, or of an enumeration", place_of(node))
        if any(low <= other_high and other_low <= high for other_low, other_high in taken):
            raise StError("a label that an earlier one holds already", place_of(node))
        taken.append((low, high))
        return low, high

    def label_value(self, node, kind):
        token = node.children[0]
        if node.data == "negative_label":
            value = Expr(WHOLE, None, -integer(token))
        elif token.type in ("IDENT", "ENUM_VALUE"):
            value = self.enum_value(token, kind) if token.type == "ENUM_VALUE" else self.named(token, kind)
        else:
            value = Expr(*self.literal_of(token))
        if value.const is None:
            raise StError("expected a label that is known beforehand", place_of(node))
        try:
            return converter(value.kind, kind)(value.const)
        except StError as error:
            raise StError(error.words, place_of(node)) from None

    @staticmethod
    def literal_of(token):
        kind, value = literal(token)
        return kind, (lambda frame: value), value

    def do_for(self, node):
        token, start, end, step, body = node.children
        place = self.name_place(token, writing=True)
        kind = place.kind
        if kind not in INTEGERS:
            raise StError(f"FOR with {kind}", place_of(token))
        start, end = (self.as_type(self.expr(one, kind), kind, one).run for one in (start, end))
        by = self.as_type(self.expr(step, kind), kind, step).run if step is not None else lambda frame: 1
        self.loops += 1
        self.counters.append(token.upper())
        inner = self.block(body)
        self.counters.pop()
        self.loops -= 1

        def run(frame):
            container, key = place.where(frame)
            value, last, width = start(frame), end(frame), by(frame)
            if width == 0:
                raise StError("FOR by steps of 0", place_of(node))
            rounds = 0
            while value <= last if width > 0 else value >= last:
                container[key] = value
                rounds += 1
                if rounds > MOST_ROUNDS:
                    raise StError("a loop without end", place_of(node))
                try:
                    inner(frame)
                except Continue:
                    pass
                except Exit:
                    return
                value += width
        # What the counter holds behind the loop is for the implementer to say: no program may hang on it.
        return run

    def looping(self, node, condition, body, stops_when, first):
        condition = self.condition(condition)
        self.loops += 1
        inner = self.block(body)
        self.loops -= 1

        def run(frame):
            if not first and condition(frame) == stops_when:
                return
            for _ in range(MOST_ROUNDS):
                try:
                    inner(frame)
                except Continue:
                    pass
                except Exit:
                    return
                if condition(frame) == stops_when:
                    return
            raise StError("a loop without end", place_of(node))
        return run

    def do_while(self, node):
        return self.looping(node, node.children[0], node.children[1], False, first=False)

    def do_repeat(self, node):
        return self.looping(node, node.children[1], node.children[0], True, first=True)
