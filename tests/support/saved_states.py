#!/usr/bin/env python3
"""Makes the saved states that ship anew: saved_states.py EMBERLINE ROOT

A scenario with `start_from` says in a comment by which command its state was made. That command has to write the file
that ships, to a millionth: its last digits are the compiler's. Each state is held against config/schema too, and none may
lie about unused. Prints one line for each difference and exits 1.
"""
import json
import os
import re
import subprocess
import sys
import tempfile

import jsonschema

FOLDER = "scenarios/states"
MADE_BY = re.compile(r"^# The state it starts from was made by: emberline rehearse (\S+) --save-state (\S+)$", re.M)


def differences(made, ships, where):
    """Where two trees of JSON differ; how a sensor's future is cut into stretches does not count."""
    if where.endswith(".on_its_way") and isinstance(made, list) and isinstance(ships, list):
        for key in ("from_degC", "to_degC"):
            end = 0 if key == "from_degC" else -1
            yield from differences(made[end][key], ships[end][key], f"{where}.{key}")
        made, ships = (sum(stretch["for_s"] for stretch in tree) for tree in (made, ships))
    if isinstance(made, dict) and isinstance(ships, dict) and made.keys() == ships.keys():
        for key in made:
            yield from differences(made[key], ships[key], f"{where}.{key}")
    elif isinstance(made, list) and isinstance(ships, list) and len(made) == len(ships):
        for i, (one, other) in enumerate(zip(made, ships)):
            yield from differences(one, other, f"{where}[{i}]")
    elif isinstance(made, (int, float)) and isinstance(ships, (int, float)):
        if abs(made - ships) > 1e-6 * max(1.0, abs(made)):
            yield f"{where}: {ships} ships, {made} is made"
    elif made != ships:
        yield f"{where}: {ships} ships, {made} is made"


def check(emberline, root, folder):
    with open(os.path.join(root, "config/schema/bench-state.json"), encoding="utf-8") as file:
        schema = jsonschema.Draft7Validator(json.load(file))
    unused = {f"{FOLDER}/{name}" for name in os.listdir(os.path.join(root, FOLDER))}
    for name in sorted(os.listdir(os.path.join(root, "scenarios"))):
        if not name.endswith(".yaml"):
            continue
        with open(os.path.join(root, "scenarios", name), encoding="utf-8") as file:
            text = file.read()
        starts_from = re.search(r"^start_from:\s*(\S+)", text, re.M)
        if not starts_from:
            continue
        state = f"scenarios/{starts_from.group(1)}"
        made_by = MADE_BY.search(text)
        if not made_by or made_by.group(2) != state:
            yield f"scenarios/{name}: has no line '# The state it starts from was made by: emberline rehearse ... " \
                  f"--save-state {state}'"
            continue
        unused.discard(state)
        made = os.path.join(folder, "made.json")
        done = subprocess.run([emberline, "rehearse", os.path.join(root, made_by.group(1)), "--save-state", made],
                              capture_output=True, text=True, timeout=240)
        if done.returncode != 0:
            yield f"{made_by.group(1)}: ended with {done.returncode}: {(done.stdout + done.stderr)[-500:]}"
            continue
        trees = []
        for path in (made, os.path.join(root, state)):
            with open(path, encoding="utf-8") as file:
                trees.append(json.load(file))
            for error in schema.iter_errors(trees[-1]):
                yield f"{path}: {list(error.absolute_path)}: {error.message[:200]}"
        yield from differences(*trees, state)
    for state in sorted(unused):
        yield f"{state}: no scenario starts from it"


def main():
    emberline, root = sys.argv[1:3]
    with tempfile.TemporaryDirectory(prefix="emberline-states-") as folder:
        problems = list(check(emberline, root, folder))
    for problem in problems:
        print(problem)
    print(f"{len(problems)} differences between the states that ship and those that are made")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
