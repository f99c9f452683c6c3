#!/usr/bin/env python3
"""Holds the outputs of a poll plan against the standards and against what the line does: poll_plan.py EMBERLINE ROOT

1. JSON against config/schema/poll-plan-result.json, which has to miss every key that is taken away.
2. Line times and load done again from MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character, 3.5 characters of
   silence (1.75 ms above 19200 bit/s) before and behind an answer.
3. CSV read by Python's csv, and Structured Text by the grammar in tests/interop/st: the same numbers.
4. A rehearsal whose stand-in polls by the plan: the share of the line's time that the traffic review measured is the
   plan's load within 1 %, no unit refuses anything, and all is said to be as planned. A greedy one is told.
Prints one line for each difference and exits 1.
"""
import copy
import csv
import io
import json
import math
import os
import subprocess
import sys
import tempfile

import jsonschema

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "../../../support"))
from places import at, objects  # noqa: E402

PLAN = "config/polls/lehr-field.yaml"
WITHIN = 0.01
STORY = """scenario: Polled by a plan
bench: {root}/config/benches/annealing-lehr.yaml
ends: 10 min
masters:
  plc:
    lines: [field]
    timeout: 300 ms
    retries: 1
    poll_lost_every: 5 s
    when_lost: {{ after: 2 failures, write: nothing }}
    program:
      - {{ poll: {root}/{plan} }}
{steps}
expect:
  - {{ name: nobody refuses, exceptions: {{ soak-heater: none }} }}
"""
GREEDY = "      - { every: 2 s, phase: 50 ms, read: [soak-heater.comms_age] }\n"


class Check:
    def __init__(self, emberline, root):
        self.emberline, self.root = emberline, root
        self.problems, self.looked_at = [], 0

    def same(self, what, found, expected, within=1e-9):
        self.looked_at += 1
        if isinstance(expected, float) and isinstance(found, (int, float)):
            good = math.isclose(found, expected, rel_tol=within, abs_tol=1e-12)
        else:
            good = found == expected
        if not good:
            self.problems.append(f"{what}: found {found}, expected {expected}")

    def run(self, *words):
        return subprocess.run([self.emberline, *words], capture_output=True, check=False)

    def plan(self, form):
        done = self.run("poll-plan", os.path.join(self.root, PLAN), "--as", form)
        if done.returncode not in (0, 1):
            sys.exit(f"poll-plan --as {form}: {done.stderr.decode()}")
        return done.stdout.decode()


def schema(check, plan):
    with open(os.path.join(check.root, "config/schema/poll-plan-result.json"), encoding="utf-8") as file:
        described = json.load(file)
    jsonschema.Draft7Validator.check_schema(described)
    validator = jsonschema.Draft7Validator(described)
    for error in validator.iter_errors(plan):
        check.problems.append(f"json: {list(error.absolute_path)}: {error.message[:200]}")
    for path, found in objects(plan):
        for key in found:
            changed = copy.deepcopy(plan)
            del at(changed, path)[key]
            check.same(f"the schema lets {list(path)} go without '{key}'", validator.is_valid(changed), False)
        changed = copy.deepcopy(plan)
        at(changed, path)["something"] = 1
        check.same(f"the schema lets 'something' pass in {list(path)}", validator.is_valid(changed), False)


def characters(request):
    """Of request and answer, from MODBUS Application Protocol V1.1b3, 6.1 to 6.6 and 6.12, with id and CRC."""
    count, function = request["count"], request["function"]
    if function in (1, 2):
        return 8 + 5 + (count + 7) // 8
    if function in (3, 4):
        return 8 + 5 + 2 * count
    return 9 + 2 * count + 8 if function == 16 else 8 + 8


def line_times(check, plan):
    baud = int(plan["line"]["serial"].split()[0])
    character = 11 / baud
    silence = 1.75e-3 if baud > 19200 else 3.5 * character
    load = 0.0
    for request in plan["requests"]:
        time = characters(request) * character + 2 * silence + plan["master"]["pause"]
        check.same(f"line time of {request['brings']}", request["line_time"], time, 1e-5)
        check.same(f"load of {request['brings']}", request["load"], time / request["every"], 1e-5)
        check.same(f"phase of {request['brings']}", 0 <= request["phase"] < request["every"], True)
        load += time / request["every"]
    check.same("load", plan["load"], load, 1e-5)
    check.same("margin", plan["margin"], 1 - load, 1e-5)
    check.same("full cycle", plan["full_cycle"], math.fsum(r["line_time"] for r in plan["requests"]))


def values(check, plan):
    """Each is in the block of its request, often enough, and in one only."""
    brought = [name for request in plan["requests"] if not request["write"] for name in request["brings"]]
    check.same("what is brought", sorted(brought), sorted(value["name"] for value in plan["values"]))
    for value in plan["values"]:
        request = plan["requests"][value["request"]]
        check.same(f"{value['name']} is brought", value["name"] in request["brings"], True)
        check.same(f"{value['name']} comes in time", request["every"] <= value["every"] + 1e-9, True)
        check.same(f"{value['name']}, oldest", value["oldest"] <= value["oldest_in_any_phase"] + 1e-9, True)


def comma_separated(check, plan):
    rows = list(csv.DictReader(io.StringIO(check.plan("csv"), newline="")))
    check.same("csv rows", len(rows), len(plan["requests"]))
    for row, request in zip(rows, plan["requests"]):
        found = (row["slave"], int(row["unit_id"]), int(row["function"], 16), int(row["address"], 16),
                 int(row["count"]), float(row["every_s"]), float(row["phase_s"]), float(row["line_time_s"]),
                 int(row["bridged"]), row["brings"].split(" "), row["reference"])
        check.same("csv: a spreadsheet keeps the function", row["function"][:2], "0x")
        check.same("csv", found, (request["slave"], request["unit_id"], request["function"], request["first"],
                                  request["count"], request["every"], request["phase"], request["line_time"],
                                  request["bridged"], request["brings"], request["reference"]))


def structured_text(check, plan):
    tools = os.path.join(check.root, "tests/interop/st")
    with tempfile.TemporaryDirectory() as folder:
        name = os.path.join(folder, "plan.st")
        with open(name, "w", encoding="utf-8") as file:
            file.write(check.plan("st"))
        parsed = subprocess.run([sys.executable, os.path.join(tools, "parse.py"), name], capture_output=True,
                                text=True, check=False)
        check.same("st, by a grammar of its own", (parsed.returncode, parsed.stdout), (0, ""))
        ran = subprocess.run([sys.executable, os.path.join(tools, "run.py"), name], input='{"constants": true}\n',
                             capture_output=True, text=True, check=False)
    constants = json.loads(ran.stdout.splitlines()[0])
    constants = {name.lower(): value for name, value in constants.items()}  # times in nanoseconds
    entries = constants["poll_field_requests"]
    check.same("st entries", len(entries), len(plan["requests"]))
    check.same("st count", constants["poll_field_count"], len(plan["requests"]))
    check.same("st poll_lost_every", constants["poll_field_poll_lost_every"] / 1e9, plan["master"]["poll_lost_every"])
    for line in check.plan("st").splitlines():
        check.same(f"st within 120 columns: {line}", len(line) <= 120, True)
    for entry, request in zip(entries, plan["requests"]):
        entry = {name.lower(): value for name, value in entry.items()}
        found = (entry["unit_id"], entry["function_code"], entry["first"], entry["count"])
        check.same("st", found, (request["unit_id"], request["function"], request["first"], request["count"]))
        check.same("st period", entry["period"] / 1e6, request["every"] * 1e3)
        check.same("st phase", entry["phase"] / 1e6, float(math.floor(request["phase"] * 1e3 + 1e-6)))


TIMES = ["1 ms", "1.5 ms", "10 ms", "99.999 s", "100 s", "1 h", "24 h", "168 h"]
PLAN_OF_ONE = """poll_plan: One value
bench: {root}/config/benches/annealing-lehr.yaml
line: field
master: {{ timeout: 1 h, poll_lost_every: {time} }}
want: [{{ every: {time}, read: [cooling-heater.state] }}]
"""


def times_in_structured_text(check):
    """Each a good literal, in whole milliseconds."""
    tools = os.path.join(check.root, "tests/interop/st")
    for time in TIMES:
        number, unit = time.split(" ")
        nanoseconds = float(number) * {"ms": 1e6, "s": 1e9, "h": 3.6e12}[unit]
        with tempfile.TemporaryDirectory() as folder:
            plan, name = os.path.join(folder, "plan.yaml"), os.path.join(folder, "plan.st")
            with open(plan, "w", encoding="utf-8") as file:
                file.write(PLAN_OF_ONE.format(root=check.root, time=time))
            check.same(f"a plan with {time}", check.run("poll-plan", plan, "--as", "st", "--out", name).returncode in (0, 1),
                       True)
            parsed = subprocess.run([sys.executable, os.path.join(tools, "parse.py"), name], capture_output=True,
                                    text=True, check=False)
            check.same(f"st with {time}", (parsed.returncode, parsed.stdout), (0, ""))
            ran = subprocess.run([sys.executable, os.path.join(tools, "run.py"), name],
                                 input='{"constants": true}\n', capture_output=True, text=True, check=False)
        constants = {name.lower(): value for name, value in json.loads(ran.stdout.splitlines()[0]).items()}
        entry = {name.lower(): value for name, value in constants["poll_field_requests"][0].items()}
        whole = int(nanoseconds) // 1_000_000 * 1_000_000
        check.same(f"st period of {time}", entry["period"], whole)
        check.same(f"st poll_lost_every of {time}", constants["poll_field_poll_lost_every"], whole)
        check.same(f"st time-out of {time}", constants["poll_field_time_out"], 3_600_000_000_000)


def for_people(check, plan):
    text = check.plan("text")
    for line in text.splitlines():
        check.same(f"text within 100 columns: {line}", len(line) <= 100, True)
    unwrapped = " ".join(text.split())
    markdown = check.plan("markdown").replace("\\", "")
    for form in (unwrapped, markdown):
        for words in ("11 bits", "t3.5", "no safety function", "IT FITS" if plan["fits"] else "DOES NOT FIT"):
            check.same(f"'{words}' is said", words in form, True)
        for name in [v["name"] for v in plan["values"]] + [w["unit"] for w in plan["watchdogs"]]:
            check.same(f"{name} is listed", name in form, True)


def rehearsed(check, plan, more=""):
    steps = "".join(f"      - {{ every: {request['every']} s, phase: {request['phase'] * 1e3} ms, "
                    f"write: {{ {request['brings'][0]}: 10 % }} }}\n"
                    for request in plan["requests"] if request["write"])
    with tempfile.TemporaryDirectory() as folder:
        story, report = os.path.join(folder, "story.yaml"), os.path.join(folder, "report.json")
        with open(story, "w", encoding="utf-8") as file:
            file.write(STORY.format(root=check.root, plan=PLAN, steps=steps + more))
        done = check.run("rehearse", story, "--json", report)
        if done.returncode not in (0, 1):
            sys.exit(f"rehearse: {done.stderr.decode()}")
        with open(report, encoding="utf-8") as file:
            return done.returncode, json.load(file)["rehearsals"][0]["traffic"]


def measured(check, plan):
    status, traffic = rehearsed(check, plan)
    check.same("a stand-in that polls by the plan is refused nothing", status, 0)
    [line] = [line for line in traffic["lines"] if line["line"] == plan["line"]["name"]]
    check.same("the measured share of the line", line["time_share"], plan["load"], WITHIN)
    for pair in traffic["pairs"]:
        check.same(f"exceptions of {pair['slave']}", pair["exceptions"], {})
        check.same(f"silence of {pair['slave']}", pair["silent"], 0)
    said = " ".join(traffic["plans"][0]["said"])
    check.same(f"'as planned' is said ({said})", "as planned" in said, True)
    check.same("the same again", rehearsed(check, plan)[1], traffic)
    said = " ".join(rehearsed(check, plan, GREEDY)[1]["plans"][0]["said"])
    check.same(f"a greedy one is told ({said})", "as planned" in said, False)
    check.same(f"and by which read ({said})", "0x0053" in said, True)
    return line["time_share"]


def main(emberline, root):
    check = Check(emberline, root)
    plan = json.loads(check.plan("json"))
    schema(check, plan)
    line_times(check, plan)
    values(check, plan)
    comma_separated(check, plan)
    structured_text(check, plan)
    times_in_structured_text(check)
    for_people(check, plan)
    share = measured(check, plan)
    for problem in check.problems:
        print(problem)
    print(f"{len(check.problems)} differences, {check.looked_at} looked at; "
          f"load {plan['load']:.6f}, measured {share:.6f}")
    return 1 if check.problems else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
