#!/usr/bin/env python3
"""Holds config/schema against the loader: schemas.py EMBERLINE ROOT

The loader is asked as a user would ask it, through `emberline check`: a key or word that cannot be known is put
into every mapping and every choice of the sample files, and what the complaint says is known has to be what the
schema says is known. Every word and unit of a schema has to be taken by the loader, every required key missed by
both, and every shipped file has to be good for both. Prints one line for each difference and exits 1.

Words of timelines and points of register tables are held against their lists by schema_test.cpp.
"""
import copy
import json
import os
import re
import sys
from collections import defaultdict

import jsonschema

from asked_loader import SAMPLES, Loader, listed, refused
from yaml_trees import Scalar, at, changed, neighbours, read, typed

KINDS = {"bench": "bench.json", "register_table": "register-table.json", "scenario": "scenario.json", "poll_plan": "poll-plan.json",
         "table_mapping": "table-mapping.json"}
SHIPPED = ("config/benches", "config/registers", "config/polls", "config/mappings", "scenarios", "scenarios/must-fail")
UNKNOWN = "qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqq"  # near to no word
ENTRY = "scenario.json: timeline_entry"
WRITTEN = {ENTRY, "scenario.json: done", "scenario.json: awaited", "scenario.json: sequence_step"}  # by schema_test.cpp
# Required by what another place of the file says, which is beyond a schema.
BEYOND = {("bench.json: load", "connection"), ("bench.json: comms_loss", "lines")}
# Units of measure that are tried beside those of the schemas: of the same kind with any prefix, and some others.
SYMBOLS = ("V", "A", "W", "ohm", "s", "Hz", "g", "J/K", "W/K", "J/kgK", "degC", "deg", "H", "K/W", "W/mK", "W/m2K", "m", "m2", "kg/m3", "A2s")
RELATED = {"min", "h", "d", "t", "K", "%"}
LONGEST = 130  # of a description, which an editor shows in one line


class Schemas:
    def __init__(self, texts):
        self.all, self.collecting = texts, False

    def shapes(self, name, schema, where):
        """The alternatives of a schema with $ref, anyOf and allOf followed: (where, schema)."""
        if "$ref" in schema:
            target = schema["$ref"].rsplit("/", 1)[1]
            schema, where = self.all[name]["definitions"][target], f"{name}: {target}"
        parts = [p for key in ("anyOf", "allOf") for p in schema.get(key, [])
                 if set(p) & {"$ref", "type", "enum", "const", "pattern", "anyOf", "allOf"}]
        if "type" in schema or "enum" in schema or "const" in schema or not parts:
            yield where, schema
        for part in parts:
            yield from self.shapes(name, part, where)

    def visit(self, name, tree):
        """Every value of a file with what the schema has for it: (where, shapes, path)."""
        def go(schema, value, where, path):
            shapes = list(self.shapes(name, schema, where))
            yield where, shapes, path
            if isinstance(value, dict):
                for place, shape in shapes:
                    rest = shape.get("additionalProperties")
                    for key, child in value.items():
                        inner = shape.get("properties", {}).get(key)
                        if inner is None and isinstance(rest, dict):
                            yield from go(rest, child, f"{place} *", path + [key])
                        elif inner is not None:
                            yield from go(inner, child, f"{place} {key}", path + [key])
            elif isinstance(value, list):
                for place, shape in shapes:
                    if isinstance(shape.get("items"), dict):
                        for i, child in enumerate(value):
                            yield from go(shape["items"], child, f"{place} item", path + [i])
        yield from go(self.all[name], tree, f"{name}: the file", [])

    def closed(self):
        """Every mapping with known keys: where -> schema."""
        found = {}

        def go(name, schema, where):
            if isinstance(schema, dict):
                if "properties" in schema and "description" in schema:
                    found[where] = schema
                for key, value in schema.items():
                    if key not in ("definitions", "if", "then", "else", "dependencies"):
                        go(name, value, where)
            elif isinstance(schema, list):
                for value in schema:
                    go(name, value, where)
        for name, schema in self.all.items():
            go(name, schema, f"{name}: the file")
            for definition, inner in schema["definitions"].items():
                go(name, inner, f"{name}: {definition}")
        return found

    def refuses(self, name, tree):
        if self.collecting:  # what is asked for, not yet what is said
            return True
        return not jsonschema.Draft7Validator(self.all[name]).is_valid(typed(tree))


class Comparison:
    def __init__(self, schemas, loader, files):
        self.schemas, self.loader, self.files = schemas, loader, files
        self.problems = []
        self.counts = defaultdict(int)

    def say(self, text):
        if text not in self.problems:
            self.problems.append(text)

    def described(self):
        for where, schema in self.schemas.closed().items():
            if schema.get("additionalProperties") is not False:
                self.say(f"{where}: has known keys and lets others pass; add \"additionalProperties\": false")
            for key in schema.get("required", []):
                if key not in schema["properties"]:
                    self.say(f"{where}: requires '{key}', which it does not know")
            for key, inner in schema["properties"].items():
                words = inner.get("description", "")
                self.counts["keys"] += 1
                if not words or "\n" in words or len(words) > LONGEST:
                    self.say(f"{where}, {key}: needs a description of 1 to {LONGEST} characters on one line")

    def places(self):
        """Mappings with known keys and choices of words, in the samples: where -> [(name, tree, path, shape)]."""
        mappings, choices, patterns = defaultdict(list), defaultdict(list), defaultdict(list)
        for name, tree in self.files:
            for where, shapes, path in self.schemas.visit(name, tree):
                value = at(tree, path)
                for place, shape in shapes:
                    if isinstance(value, dict):
                        if "properties" in shape:
                            mappings[place].append((name, tree, path, shape))
                    elif not isinstance(value, list):
                        if "enum" in shape:
                            choices[where].append((name, tree, path, shape["enum"]))
                        if re.search(r"\\s\*\([^)]*\)\$$", shape.get("pattern", "")):
                            patterns[where].append((name, tree, path, shape["pattern"]))
        return mappings, choices, patterns

    def keys(self, mappings):
        for where, schema in self.schemas.closed().items():
            used, known, complete, likes = set(), set(), True, set()
            for name, tree, path, _ in mappings.get(where, []):
                mapping = at(tree, path)
                used |= set(mapping)
                like = (frozenset(mapping), str(neighbours(tree, path + [next(iter(mapping))])))
                if like in likes:
                    continue
                likes.add(like)
                probe = changed(tree, path, {**mapping, UNKNOWN: Scalar("1")})
                [complaints] = self.loader.ask(name, [probe])
                self.counts["unknown keys"] += 1
                if not complaints:
                    self.say(f"{where}: the loader takes an unknown key")
                if not self.schemas.refuses(name, probe):
                    self.say(f"{where}: the schema takes an unknown key")
                said = listed(complaints, UNKNOWN)
                if said:
                    known |= said[0]
                    complete = complete and said[1]
            properties = set(schema["properties"])
            if where == ENTRY:
                for key in sorted(properties - used):
                    self.say(f"{where}: '{key}' stands in no sample; add it to {SAMPLES}/scenario.yaml")
            if where in WRITTEN:
                continue
            for key in sorted(known - properties):
                self.say(f"{where}: the loader reads '{key}'; add it to config/schema, and to {SAMPLES}")
            if known and complete:
                for key in sorted(properties - known):
                    self.say(f"{where}: the schema has '{key}', which the loader does not read")
            for key in sorted(properties - used):
                self.say(f"{where}: '{key}' stands in no sample; add it to one in {SAMPLES}")
            if mappings.get(where) and not known:
                self.say(f"{where}: the loader does not say which keys it knows")

    def missing(self, mappings):
        """Each key taken away once a mapping: whether it is missed, both have to agree."""
        for where, found in mappings.items():
            likes = set()
            for name, tree, path, shape in found:
                mapping = at(tree, path)
                if frozenset(mapping) in likes:
                    continue
                likes.add(frozenset(mapping))
                for key in mapping:
                    required = key in shape.get("required", [])
                    if where in WRITTEN and not required:
                        continue
                    probe = changed(tree, path + [key], None)
                    complaints = self.loader.ask(name, [probe])[0]
                    missed = any(f"key '{key}' is missing" in c for c in complaints)
                    self.counts["missing keys"] += 1
                    if required and not complaints:
                        self.say(f"{where}: the schema requires '{key}', the loader does not")
                    if required and not self.schemas.refuses(name, probe):
                        self.say(f"{where}: the schema takes it without '{key}'")
                    if missed and (where, key) not in BEYOND and not self.schemas.refuses(name, probe):
                        self.say(f"{where}: the loader requires '{key}', the schema does not")

    def words(self, choices):
        for where, found in choices.items():
            known, complete = set(), True
            taken, words, likes = set(), set(), set()
            for name, tree, path, enum in found:
                # One in each surrounding is enough: what it may say hangs on its neighbours.
                like = (id(enum), str({k: v for k, v in neighbours(tree, path).items() if k != path[-1]}))
                if like in likes:
                    continue
                likes.add(like)
                probe = changed(tree, path, Scalar(UNKNOWN))
                [complaints] = self.loader.ask(name, [probe])
                self.counts["wrong words"] += 1
                if not complaints:
                    self.say(f"{where}: the loader takes any word")
                if not self.schemas.refuses(name, probe):
                    if not any(other is not enum for *_, other in found):
                        self.say(f"{where}: the schema takes any word")
                said = listed(complaints, UNKNOWN)
                if said:
                    known |= said[0]
                    complete = complete and said[1]
                for word in enum:
                    text = str(word).lower() if isinstance(word, bool) else str(word)
                    words.add(text)
                    if text in taken:
                        continue
                    self.counts["words"] += 1
                    if not refused(self.loader.ask(name, [changed(tree, path, Scalar(text))])[0], text):
                        taken.add(text)
            for word in sorted(words - taken):
                self.say(f"{where}: the schema has '{word}', which the loader refuses")
            for word in sorted(known - words):
                self.say(f"{where}: the loader takes '{word}'; add it to config/schema")
            if known and complete:
                for word in sorted(words - known):
                    self.say(f"{where}: the schema has '{word}', which the loader does not list")

    def units(self, patterns):
        units_of = lambda pattern: pattern.rsplit("(", 1)[1][:-2].split("|")
        tried = set()
        for where, found in patterns.items():
            name, tree, path, _ = found[0]
            allowed = {unit for _, t, w, p in found if t is tree and w == path for unit in units_of(p)}
            if (name, frozenset(allowed)) in tried:
                continue
            tried.add((name, frozenset(allowed)))
            value = str(at(tree, path))
            number = re.match(r"[+-]?[0-9.]+", value)
            if not number:
                continue
            related = {prefix + symbol for symbol in SYMBOLS if any(unit.endswith(symbol) for unit in allowed)
                       for prefix in ("u", "m", "", "k", "M")}
            for unit in sorted(allowed | related | RELATED) + ["parsec"]:
                probe = changed(tree, path, Scalar(f"{number.group(0)} {unit}"))
                complaints = self.loader.ask(name, [probe])[0]
                # Where a unit is right its number may still be out of bounds; actions say both in one sentence.
                no_unit = f"found '{number.group(0)} {unit}'" if where.startswith(ENTRY) else "is no unit for"
                taken = not any(no_unit in c for c in complaints)
                self.counts["units"] += 1
                if taken and unit not in allowed:
                    self.say(f"{where}: the loader takes the unit '{unit}'; add it to config/schema")
                if not taken and unit in allowed and not where.endswith("full_scale"):
                    self.say(f"{where}: the schema has the unit '{unit}', which the loader refuses")
                if unit == "parsec" and not self.schemas.refuses(name, probe):
                    self.say(f"{where}: the schema takes any unit")

    def run(self):
        for name, schema in self.schemas.all.items():
            jsonschema.Draft7Validator.check_schema(schema)
            used = set(re.findall(r'"#/definitions/(\w+)"', json.dumps(schema)))
            for definition in sorted(used - set(schema["definitions"])):
                self.say(f"{name}: refers to '{definition}', which it does not define")
            for definition in sorted(set(schema["definitions"]) - used):
                self.say(f"{name}: defines '{definition}' and does not use it")
        if self.problems:
            return self.problems
        self.described()
        for name, tree in self.files:
            for error in jsonschema.Draft7Validator(self.schemas.all[name]).iter_errors(typed(tree)):
                self.say(f"a sample for {name}: the schema refuses {list(error.absolute_path)}: {error.message[:200]}")
            for complaint in self.loader.ask(name, [tree])[0]:
                self.say(f"a sample for {name}: the loader refuses it: {complaint}")
        for what in ("keys", "missing", "words", "units"):
            self.compare(what)
        return self.problems

    def compare(self, what):
        mappings, choices, patterns = self.places()
        argument = {"words": choices, "units": patterns}.get(what, mappings)
        said, counts = list(self.problems), dict(self.counts)
        self.loader.collecting = self.schemas.collecting = True
        getattr(self, what)(argument)
        self.loader.collecting = self.schemas.collecting = False
        self.loader.run_due()
        self.problems, self.counts = said, defaultdict(int, counts)
        getattr(self, what)(argument)


def shipped(root, schemas):
    """What is wrong with shipped files: the line that names their schema, and whether they fit it."""
    problems, count = [], 0
    for folder in SHIPPED:
        for file in sorted(os.listdir(os.path.join(root, folder))):
            if not file.endswith(".yaml"):
                continue
            count += 1
            path = os.path.join(root, folder, file)
            tree = read(path)
            kind = next(KINDS[k] for k in ("scenario", "register_table", "table_mapping", "poll_plan", "bench") if k in tree)
            with open(path, encoding="utf-8") as text:
                first = text.readline().rstrip("\n")
            named = "# yaml-language-server: $schema=" + os.path.relpath(
                os.path.join(root, "config/schema", kind), os.path.join(root, folder))
            if first != named:
                problems.append(f"{folder}/{file}: the first line has to be: {named}")
            for error in jsonschema.Draft7Validator(schemas.all[kind]).iter_errors(typed(tree)):
                problems.append(f"{folder}/{file}: {list(error.absolute_path)}: {error.message[:200]}")
    return problems, count


def samples(root):
    found = []
    for file in sorted(name for name in os.listdir(os.path.join(root, SAMPLES)) if name.endswith(".yaml")):
        tree = read(os.path.join(root, SAMPLES, file))
        found.append((next(KINDS[k] for k in ("scenario", "register_table", "table_mapping", "poll_plan", "bench") if k in tree), tree))
    return found


def can_fail(texts, loader, files):
    """Differences that are put in on purpose, each with words of the complaint it has to bring."""
    bench = lambda t, d: t["bench.json"]["definitions"][d]
    cases = [
        ("keys", lambda t: bench(t, "comms_loss")["properties"].pop("feeds"), "reads 'feeds'"),
        ("keys", lambda t: bench(t, "unit")["properties"].update(colour={"description": "x"}),
         "'colour', which the loader does not read"),
        ("keys", lambda t: bench(t, "zone").update(additionalProperties=True), "the schema takes an unknown key"),
        ("missing", lambda t: bench(t, "unit")["required"].remove("rating"), "requires 'rating'"),
        ("words", lambda t: bench(t, "firing")["properties"]["mode"]["enum"].pop(), "takes 'burst'"),
        ("words", lambda t: bench(t, "load")["properties"]["material"]["enum"].append("lead"),
         "has 'lead', which the loader refuses"),
        ("units", lambda t: bench(t, "mass").update(pattern="^[0-9.]+\\s*(kg|t)$"), "takes the unit 'g'"),
    ]
    benches = [(name, tree) for name, tree in files if name == "bench.json"]
    for what, change, words in cases:
        other = copy.deepcopy(texts)
        change(other)
        comparison = Comparison(Schemas(other), loader, benches)
        comparison.compare(what)
        if not any(words in problem for problem in comparison.problems):
            yield f"this check would not see a difference of {what}: {words}"


def main():
    emberline, root = sys.argv[1:3]
    texts = {}
    for name in KINDS.values():
        with open(os.path.join(root, "config/schema", name), encoding="utf-8") as file:
            texts[name] = json.load(file)
    schemas = Schemas(texts)
    files = samples(root)
    loader = Loader(emberline, root)
    try:
        comparison = Comparison(schemas, loader, files)
        problems = comparison.run()
        more, count = shipped(root, schemas)
        problems += more
        if not problems:
            problems += can_fail(texts, loader, files)
    finally:
        loader.close()
    for problem in problems:
        print(problem)
    said = ", ".join(f"{number} {what}" for what, number in comparison.counts.items())
    print(f"{len(problems)} differences between config/schema and the loader; {count} shipped files, {said}, "
          f"{len(loader.asked)} files asked about")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
