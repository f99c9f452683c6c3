"""Structured Text read, checked and made into something that can be called.

Everything is typed before anything runs: a program that is not well typed is refused also where it would never come.
"""
import os

import lark

import st_functions
from st_declarations import Declarations
from st_parts import Unit, Var, place_of
from st_types import StError

# Words no identifier may be: keywords of editions 2 and 3 that the grammar does not name, names of standard functions
# and blocks, which edition 2 counts among the keywords (Annex C there).
RESERVED = set("""ABSTRACT ACTION ANY ANY_BIT ANY_DATE ANY_DERIVED ANY_ELEMENTARY ANY_INT ANY_MAGNITUDE ANY_NUM ANY_REAL
ANY_STRING CHAR CLASS CONTINUE DATE DATE_AND_TIME DT EN END_ACTION END_CLASS END_INTERFACE END_METHOD END_NAMESPACE END_STEP
END_TRANSITION ENO EXTENDS FINAL FROM F_EDGE IMPLEMENTS INITIAL_STEP INTERFACE INTERNAL INTERVAL LDATE LDT LTOD METHOD MOD
NAMESPACE NULL OVERLAP OVERRIDE PRIORITY PRIVATE PROTECTED PUBLIC READ_ONLY READ_WRITE REF REF_TO R_EDGE SINGLE STEP SUPER
THIS TIME_OF_DAY TOD TRANSITION USING VAR_ACCESS VAR_CONFIG WCHAR""".split())
CHECK_WORDS = {"SINGLE", "INTERVAL", "PRIORITY"}  # names of the inputs of a task

HERE = os.path.dirname(os.path.abspath(__file__))


def parser(cached={}):
    if not cached:
        with open(os.path.join(HERE, "iec_61131_3.lark"), encoding="utf-8") as grammar:
            cached["parser"] = lark.Lark(grammar.read(), parser="lalr", lexer="basic", propagate_positions=True,
                                         maybe_placeholders=True)
    return cached["parser"]


class Program(Declarations):
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
