#!/usr/bin/env python3
"""Holds what the program writes as JSON against config/schema/verdicts.json: verdicts_schema.py EMBERLINE ROOT

Real output of rehearsals, merged, and the sample of the tests have to be good for the schema. The sample has to be
refused when a key is missing in any of its objects (but for those that older reports lack), or one more is there. Prints one line for each difference and
exits 1.
"""
import copy
import json
import os
import subprocess
import sys
import tempfile

import jsonschema

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../../support"))
from places import at, objects  # noqa: E402

STORIES = ["cable-pulled-latch", "must-fail/comes-back-heating", "late-answers", "power-cycle-in-mid-run"]

OLDER_LACK = ["plans"]


def main(emberline, root):
    with open(os.path.join(root, "config/schema/verdicts.json"), encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft7Validator.check_schema(schema)
    validator = jsonschema.Draft7Validator(schema)
    problems = []
    with tempfile.TemporaryDirectory() as folder:
        shards = []
        for number, story in enumerate(STORIES):
            shards.append(os.path.join(folder, f"{number}.json"))
            run = subprocess.run([emberline, "rehearse", os.path.join(root, "scenarios", story + ".yaml"),
                                  "--json", shards[-1]], capture_output=True, text=True, check=False)
            if run.returncode not in (0, 1):
                sys.exit(f"{story}: {run.stderr}")
        merged = os.path.join(folder, "merged.json")
        subprocess.run([emberline, "merge", *shards, "--json", merged], capture_output=True, check=False)
        with open(merged, encoding="utf-8") as file:
            verdicts = json.load(file)
    sample = os.path.join(root, "tests/sim/io/report/verdicts.json")
    with open(sample, encoding="utf-8") as file:
        made_up = json.load(file)
    for name, document in (("real output", verdicts), ("the sample", made_up)):
        for error in validator.iter_errors(document):
            problems.append(f"{name}: {list(error.absolute_path)}: {error.message[:200]}")
    tried = 0
    for path, found in objects(made_up):
        if path and path[-1] == "exceptions":  # its keys are codes
            continue
        for key in found:
            changed = copy.deepcopy(made_up)
            del at(changed, path)[key]
            tried += 1
            if validator.is_valid(changed) != (key in OLDER_LACK):
                problems.append(f"{list(path)}: the schema {'asks for' if key in OLDER_LACK else 'lets it go without'} '{key}'")
        changed = copy.deepcopy(made_up)
        at(changed, path)["something"] = 1
        if validator.is_valid(changed):
            problems.append(f"{list(path)}: the schema lets 'something' pass")
    for problem in problems:
        print(problem)
    print(f"{len(problems)} differences between config/schema/verdicts.json and what is written; "
          f"{len(verdicts['rehearsals'])} rehearsals, {tried} keys left out")
    return 1 if problems or len(verdicts["rehearsals"]) != len(STORIES) else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
