"""Types and first values, as far as they are known before anything runs."""
import lark

from st_literals import integer
from st_parts import Named, Unit, place_of
from st_types import (BITS, INTEGERS, REALS, WHOLE, Array, Enum, StError, Struct, Subrange, Text, converter, copied, in_range,
                      plain)


class Declarations:
    """A part of `Program`."""

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
            from st_expressions import new_instance
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
