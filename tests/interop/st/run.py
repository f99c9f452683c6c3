#!/usr/bin/env python3
"""Runs functions and function blocks of Structured Text.

    run.py FILE... FUNCTION [ARG...]        prints the result, then a line NAME=VALUE for each output
    run.py FILE... < CALLS                  a JSON object a line in, one out

Files end in .st. ARG is JSON, or NAME=JSON: 5, 1.5, true, "text", [1, 2], {"field": 1}. A line of CALLS:

    {"call": "F", "args": [1, 2]}                     -> {"result": 3, "outputs": {"Y": 4}}
    {"call": "F", "args": {"IN": 1}}
    {"call": "BLOCK", "instance": "a", "args": {"IN": true}, "at_ms": 250}     keeps what it is from call to call

or {"error": "FILE:LINE:COLUMN: what"}. {"constants": true} gives all global constants. `at_ms` is the time that timers
see. Variables in and out are given as inputs and handed back among the outputs. Values are of the declared types: what
does not fit is an error. A real number that JSON cannot carry is "inf", "-inf" or "nan". Enumerations go by name.
"""
import json
import math
import sys

from st_expressions import fresh_temporaries, new_instance, run_unit
from st_parts import Unit
from st_program import Program
from st_types import BITS, INTEGERS, REALS, Array, Enum, StError, Struct, Subrange, Text, in_range, plain, rounded


def from_json(kind, value):
    kind_ = plain(kind)
    if isinstance(kind, Array):
        if not isinstance(value, list) or len(value) != kind.size():
            raise StError(f"expected {kind.size()} values for {kind}")
        return [from_json(kind.element, one) for one in value]
    if isinstance(kind, Struct):
        known = {name.lower(): name for name in kind.fields}
        if not isinstance(value, dict) or {key.lower() for key in value} != set(known):
            raise StError(f"expected {', '.join(kind.fields)} for {kind}")
        return {known[key.lower()]: from_json(kind.fields[known[key.lower()]][0], one) for key, one in value.items()}
    if isinstance(kind, Enum):
        if str(value).upper() not in kind.values:
            raise StError(f"{value} is no value of {kind}")
        return kind.values[str(value).upper()]
    if isinstance(kind, Text):
        if not isinstance(value, str) or len(value) > kind.length:
            raise StError(f"{value!r} is no {kind}")
        return value
    if kind_ == "BOOL":
        if not isinstance(value, bool):
            raise StError(f"{value!r} is no BOOL")
        return value
    if kind_ in REALS:
        return rounded(float(value), kind_)
    if isinstance(value, bool) or not isinstance(value, int):
        raise StError(f"{value!r} is no {kind}")
    if kind_ in INTEGERS or kind_ in BITS:
        in_range(value, kind_)
        if isinstance(kind, Subrange) and not kind.low <= value <= kind.high:
            raise StError(f"{value} is not in {kind}")
    return value


def to_json(kind, value):
    if isinstance(kind, Array):
        return [to_json(kind.element, one) for one in value]
    if isinstance(kind, Struct):
        return {name: to_json(field, value[name]) for name, (field, _) in kind.fields.items()}
    if isinstance(kind, Enum):
        return next(name for name, number in kind.values.items() if number == value)
    if isinstance(kind, Unit):
        return {var.name: to_json(var.kind, value[var.name]) for var in kind.vars.values() if var.role == "VAR_OUTPUT"}
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


class Machine:
    """A program that is called from Python; names are case-insensitive."""

    def __init__(self, *files):
        texts = {}
        for name in files:
            with open(name, encoding="utf-8") as file:
                texts[name] = file.read()
        self.start(texts)

    @classmethod
    def of_text(cls, text, name="program.st"):
        machine = cls.__new__(cls)
        machine.start({name: text})
        return machine

    def start(self, texts):
        self.program, self.instances = Program(texts), {}
        if self.program.complaints:
            raise StError("\n".join(self.program.complaints))

    def constants(self):
        return {name: to_json(var.kind, self.program.memory[name])
                for name, var in self.program.globals.items() if var.constant}

    def call(self, name, args=(), instance=None, at_ms=0):
        """(result, outputs) of a function or, with the name of an instance, of a function block or a program."""
        unit = self.program.units.get(name.upper())
        if unit is None:
            raise StError(f"there is no {name}")
        self.program.now = int(at_ms * 1_000_000)
        if unit.sort == "function":
            frame = new_instance(self.program, unit)
        else:
            if (unit.name, instance) not in self.instances:
                self.instances[unit.name, instance] = new_instance(self.program, unit)
            frame = self.instances[unit.name, instance]
            fresh_temporaries(self.program, unit, frame)
        passed = self.pass_in(unit, frame, args)
        try:
            unit.native(frame, self.program.now) if unit.native else run_unit(unit, frame)
        except StError as error:
            where = f"{self.program.of_file.get(unit.name, '')}:{error.place[0]}:{error.place[1]}: " if error.place else ""
            raise StError(where + error.words) from None
        outputs = {var.name: to_json(var.kind, frame[var.name]) for var in unit.vars.values() if var.role == "VAR_OUTPUT"}
        outputs.update({name: to_json(kind, holder[name]) for name, kind, holder in passed})
        return (to_json(unit.result, frame[unit.name]) if unit.result is not None else None), outputs

    def pass_in(self, unit, frame, args):
        inputs = {var.name: var for var in unit.inputs()}
        if not isinstance(args, dict):
            if len(args) != len(inputs):
                raise StError(f"{unit.name} has the inputs {', '.join(inputs) or 'none'}")
            args = dict(zip(inputs, args))
        passed = []
        for name, value in args.items():
            var = inputs.get(name.upper())
            if var is None:
                raise StError(f"{unit.name} has no input {name}")
            value = from_json(var.kind, value)
            if var.role == "VAR_IN_OUT":
                holder = {var.name: value}
                frame[var.name] = (holder, var.name)
                passed.append((var.name, var.kind, holder))
            else:
                frame[var.name] = value
        for var in inputs.values():
            if var.role == "VAR_IN_OUT" and var.name not in {name for name, _, _ in passed}:
                raise StError(f"{unit.name} needs {var.name}")
        return passed


def batch(machine):
    for line in sys.stdin:
        if not line.strip():
            continue
        try:
            wish = json.loads(line)
            if "constants" in wish:
                print(json.dumps(machine.constants()))
                continue
            result, outputs = machine.call(wish["call"], wish.get("args", ()), wish.get("instance"), wish.get("at_ms", 0))
            print(json.dumps({"result": result, "outputs": outputs}))
        except StError as error:
            print(json.dumps({"error": str(error)}))


def argument(text):
    try:
        return json.loads(text)
    except json.JSONDecodeError:
        return text


def main():
    words = sys.argv[1:]
    files = []
    while words and words[0].endswith(".st"):
        files.append(words.pop(0))
    if not files:
        print(__doc__.strip(), file=sys.stderr)
        return 2
    try:
        machine = Machine(*files)
        if not words:
            batch(machine)
            return 0
        name, *given = words
        split = [one.partition("=") for one in given]
        named = bool(given) and all(sign and key.isidentifier() for key, sign, _ in split)
        args = {key: argument(value) for key, _, value in split} if named else [argument(one) for one in given]
        result, outputs = machine.call(name, args)
        if result is not None:
            print(json.dumps(result))
        for key, value in outputs.items():
            print(f"{key}={json.dumps(value)}")
        return 0
    except StError as error:
        print(error)
        return 1


if __name__ == "__main__":
    sys.exit(main())
