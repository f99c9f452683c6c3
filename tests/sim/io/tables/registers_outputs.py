#!/usr/bin/env python3
"""Reads what `emberline registers --as ...` writes with tools of others: registers_outputs.py EMBERLINE ROOT

All shipped tables and benches, and some made up here with names that are awkward. JSON is held against its schema, CSV
read by Python's csv, HTML by its parser, Structured Text by tests/interop/st; what they say has to be the same. The
block reads have to bring everything, touch nothing unmapped and stay within what the unit takes. Prints one line for
each fault and exits 1.
"""
import copy
import csv
import glob
import html.parser
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile

import jsonschema

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "../../../support"))
from places import at, objects  # noqa: E402

COLUMNS = ("table,address,reference,name,type,registers,scale,unit,access,lowest,highest,word_order,byte_order,coding,bit,mask,"
           "write_mask,values,flags,flag,out_of_range,kept,split,broken,fixed,meaning").split(",")
CODES = {"coils": 1, "discrete": 2, "holding": 3, "input": 4}
VOID = {"meta", "br", "wbr", "img"}
AWKWARD = """register_table: "Odd | names <b> *)  (* `x` & more"
numbering: zero-based
gaps: zero
holding:
  - { at: 0, point: setpoint, as: u16, scale: 0.1 %, access: read-write, range: 0..100 % }
  - { at: 1, point: state, as: s16, values: { running: 30 } }
  - { at: 2, point: warnings, as: bit, bit: 0, flag: load-open }
  - { at: 2, point: warnings, as: bit, bit: 1, flag: supply-low }
  - { at: 3, point: warnings, as: u16 }
  - { at: 65533, point: energy, as: u32, scale: 0.1 kWh }
  - { at: 65535, point: trips, as: u16, flags: { fuse-open: 15 } }
coils:
  - { at: 65535, point: reset, access: read-write }
"""
BENCH = """bench: "Type, step & *) task"
supply: { system: single-phase, voltage: 230 V, frequency: 50 Hz }
lines: { VAR: { pty: %s/pty } }
units:
"""
UNIT = """  %s:
    id: %d
    lines: [VAR]
    registers: %s
    rating: { voltage: 230 V, current: 40 A }
    firing: { mode: phase-angle }
    control: { variable: power, full_scale: 5 kW }
    comms_loss: { timeout: 3 s, policy: latch-to-inhibit }
    %s
    load: { material: nickel-chromium, cold_resistance: 10 ohm }
"""


class Balanced(html.parser.HTMLParser):
    """What is open, what was said of cells, and what the page would fetch."""

    def __init__(self):
        super().__init__()
        self.open, self.faults, self.rows = [], [], []

    def handle_starttag(self, tag, attrs):
        self.faults += [f"fetches {value}" for key, value in attrs if key in ("src", "href")]
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> closes something else")

    def handle_data(self, data):
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data


class Outputs:
    def __init__(self, emberline, root, schema):
        self.emberline, self.root, self.schema = emberline, root, schema
        self.faults, self.rows, self.files = [], 0, 0

    def say(self, fault):
        self.faults.append(fault)

    def run(self, *words, status=0):
        run = subprocess.run([self.emberline, "registers", *words], capture_output=True, check=False)
        if run.returncode != status:
            self.say(f"{words}: exit {run.returncode}, expected {status}: {run.stderr.decode()[:300]}")
        return run.stdout.decode(), run.stderr.decode()

    def file(self, path, folder):
        self.files += 1
        name = os.path.basename(path)
        listing = json.loads(self.run(path, "--as", "json")[0])
        for error in self.schema.iter_errors(listing):
            self.say(f"{name}: {list(error.absolute_path)}: {error.message[:200]}")
        for table in listing["tables"]:
            self.blocks(name, table, table["blocks"], None)
            for unit in table["units"]:
                self.blocks(f"{name} {unit['name']}", table, unit["blocks"], unit["largest_block"])
            self.rows += len(table["rows"])
        self.people(name, path, listing)
        self.structured_text(name, path, listing, folder)
        units = [table["units"][0]["name"] if table["units"] else None for table in listing["tables"]]
        for table, unit in zip(listing["tables"], units):
            only = ["--unit", unit] if unit else []
            self.csv(f"{name} {unit}", self.run(path, "--as", "csv", *only)[0], table["rows"])
            again = os.path.join(folder, "again.yaml")
            self.run(path, "--as", "yaml", "--out", again, *only)
            read = json.loads(self.run(again, "--as", "json")[0])["tables"][0]
            if read["rows"] != table["rows"] or read["gaps"] != table["gaps"] or read["title"] != table["title"]:
                self.say(f"{name} {unit}: written as YAML it is another table")
        return listing

    def blocks(self, name, table, blocks, largest):
        """Everything readable is brought once, whole and within the limits."""
        mapped, brought = {}, {}
        same = [r["address"] for r in table["rows"] if r["table"] == "input"]
        same = bool(same) and same == [r["address"] for r in table["rows"] if r["table"] == "holding"]
        for row in table["rows"]:
            if row["access"] != "write-only":
                for word in range(row["registers"]):
                    mapped[row["table"], row["address"] + word] = row
        for block in blocks:
            bits = block["table"] in ("coils", "discrete")
            limit = min(2000 if bits else 125, (largest or 125) * (16 if bits else 1))
            if block["count"] > limit:
                self.say(f"{name}: {block} is longer than {limit}")
            for address in range(block["address"], block["address"] + block["count"]):
                if (block["table"], address) not in mapped:
                    self.say(f"{name}: {block} touches {address}, which is not there")
                if (block["table"], address) in brought:
                    self.say(f"{name}: {address} is read twice")
                brought[block["table"], address] = block
        for (kind, address), row in mapped.items():
            if same and kind == "input":
                continue
            if (kind, address) not in brought:
                self.say(f"{name}: {kind} {address} is never read")
            elif brought[kind, address] is not brought[kind, row["address"]]:
                self.say(f"{name}: {row['name']} is cut in two")

    def people(self, name, path, listing):
        """Zero-based hexadecimal, decimal and reference side by side, for every row."""
        text, markdown = self.run(path)[0], self.run(path, "--as", "markdown")[0]
        if text != self.run(path, "--as", "text")[0]:
            self.say(f"{name}: text is not the default")
        page = Balanced()
        page.feed(self.run(path, "--as", "html")[0])
        self.faults += [f"{name}: HTML: {fault}" for fault in page.faults + [f"{tag} stays open" for tag in page.open]]
        cells = None
        of_markdown = []
        for line in markdown.split("\n"):
            if not line.startswith("|"):
                cells = None
                continue
            found = re.split(r"(?<!\\)\|", line)
            cells = cells or len(found)
            if len(found) != cells:
                self.say(f"{name}: Markdown: a row of {len(found)} cells in a table of {cells}: {line}")
            of_markdown.append([cell.strip(" `") for cell in found[1:-1]])
        of_text = [re.split(r"  +", line.strip()) for line in text.split("\n")]
        for table in listing["tables"]:
            holding = {row["address"] for row in table["rows"] if row["table"] == "holding"}
            for row in table["rows"]:
                bit = "" if row["bit"] is None else f".{row['bit']}"
                number = row["address"] + 1
                short = row["reference"][0] + (f"{number:04}" if number < 10000 else f"{number:05}")
                if row["reference"][1:] != f"{number:05}":
                    self.say(f"{name}: {row['reference']} stands beside {row['address']}")
                expected = [f"0x{row['address']:04X}{bit}", str(row["address"]), short, row["name"]]
                for kind, lines in (("text", of_text), ("Markdown", of_markdown), ("HTML", page.rows)):
                    shared = kind != "text" and row["table"] == "input" and row["address"] in holding
                    if not shared and not any(line[:4] == expected for line in lines):
                        self.say(f"{name}: {kind} lacks {expected}")

    def csv(self, name, text, rows):
        if "\n" in text.replace("\r\n", ""):
            self.say(f"{name}: CSV has line ends of its own")
        reader = csv.DictReader(io.StringIO(text, newline=""))
        if reader.fieldnames != COLUMNS:
            self.say(f"{name}: CSV has the columns {reader.fieldnames}")
        lines = list(reader)
        if len(lines) != len(rows):
            self.say(f"{name}: CSV has {len(lines)} rows of {len(rows)}")
        for line, row in zip(lines, rows):
            for key in ("table", "reference", "name", "type", "access", "meaning"):
                if line[key] != row[key]:
                    self.say(f"{name}: CSV has {key} {line[key]}, JSON {row[key]}")
            for key in ("scale", "lowest", "highest", "broken", "bit"):
                if (float(line[key]) if line[key] else None) != row[key]:
                    self.say(f"{name}: CSV has {key} {line[key]}, JSON {row[key]}")
            if int(line["address"], 16) != row["address"] or int(line["registers"]) != row["registers"]:
                self.say(f"{name}: CSV has {line['name']} elsewhere")
            for key in ("values", "flags"):  # those the table lists; JSON has all
                for word, number in (pair.split("=") for pair in line[key].split()):
                    if row[key].get(word) != int(number):
                        self.say(f"{name}: CSV has {word}={number}, JSON {row[key]}")
            if (line["kept"] == "yes") != row["kept"] or (line["flag"] or None) != row["flag"]:
                self.say(f"{name}: CSV and JSON differ in {line['name']}")

    def structured_text(self, name, path, listing, folder):
        program = os.path.join(folder, "program.st")
        self.run(path, "--as", "st", "--out", program)
        with open(program, encoding="utf-8") as file:
            self.faults += [f"{name}: Structured Text: {len(line)} characters: {line}" for line in file if len(line) > 121]
        tools = os.path.join(self.root, "tests/interop/st")
        parsed = subprocess.run([sys.executable, os.path.join(tools, "parse.py"), program], capture_output=True, text=True,
                                check=False)
        if parsed.returncode != 0:
            self.say(f"{name}: Structured Text: {(parsed.stdout + parsed.stderr)[:600]}")
            return
        run = subprocess.run([sys.executable, os.path.join(tools, "run.py"), program], input='{"constants": true}\n',
                             capture_output=True, text=True, check=False)
        constants = json.loads(run.stdout)
        expected = []
        for table in listing["tables"]:
            holding = [r["address"] for r in table["rows"] if r["table"] == "holding"]
            for row in table["rows"]:
                if not (row["table"] == "input" and holding == [r["address"] for r in table["rows"] if r["table"] == "input"]):
                    expected.append(row["address"])
        addresses = [value for key, value in constants.items() if key.endswith("_ADDRESS")]
        if sorted(addresses) != sorted(expected):
            self.say(f"{name}: Structured Text has {len(addresses)} addresses of {len(expected)}")
        wanted = [[{"UNIT_ID": unit["id"], "FUNCTION_CODE": CODES[block["table"]], "FIRST": block["address"],
                    "COUNT": block["count"]} for block in unit["blocks"]]
                  for table in listing["tables"] for unit in table["units"] or [{"id": 1, "blocks": table["blocks"]}]]
        found = [value for key, value in constants.items() if key.endswith("_BLOCKS")]
        if json.dumps(found).upper() != json.dumps(wanted).upper():
            self.say(f"{name}: Structured Text has other block reads: {str(found)[:300]}")

    def refusals(self, folder):
        table = os.path.join(self.root, "config/registers/short-blocks.yaml")
        bench = os.path.join(self.root, "config/benches/annealing-lehr.yaml")
        for words, status, said in (([table, "--as", "pdf"], 2, "expected one of"), ([table, "--unit", "a"], 2, "--unit is for benches"),
                                    ([bench, "--unit", "soak-heeter"], 2, "soak-heater"), ([bench, "--as", "csv"], 2, "expected --unit"),
                                    ([bench, "--as", "yaml"], 2, "expected --unit"),
                                    ([table, "--out", os.path.join(folder, "no/where")], 3, "cannot be written")):
            out, err = self.run(*words, status=status)
            if said not in err or err.count("\n") != 1 or out:
                self.say(f"{words}: said {out}{err}")
        self.overwriting(folder)
        told = subprocess.run([self.emberline, "registers", "--help"], capture_output=True, text=True, check=False).stdout
        for words in ("I/O blocks", "400049"):
            if words not in told:
                self.say(f"--help says nothing of {words}")
        out = os.path.join(folder, "out.txt")
        self.run(table, "--out", out)
        with open(out, encoding="utf-8") as file:
            if file.read() != self.run(table)[0]:
                self.say("--out writes something else than standard output gets")


    def overwriting(self, folder):
        """--out that leads to what is read: the file, a table of a bench or of a plan's bench, by another name too."""
        shutil.copytree(os.path.join(self.root, "config"), os.path.join(folder, "config"))
        table, bench, plan = (os.path.join(folder, "config", name) for name in (
            "registers/short-blocks.yaml", "benches/annealing-lehr.yaml", "polls/lehr-field.yaml"))
        link = os.path.join(folder, "link.yaml")
        os.symlink(table, link)
        before = {path: open(path, "rb").read() for path in (table, bench, plan)}
        for words in (["registers", table, "--out", table], ["registers", table, "--as", "csv", "--out", link],
                      ["registers", bench, "--out", bench], ["registers", bench, "--out", table],
                      ["registers", bench, "--unit", "soak-heater", "--as", "csv", "--out", link],
                      ["poll-plan", plan, "--out", plan], ["poll-plan", plan, "--out", bench],
                      ["poll-plan", plan, "--as", "csv", "--out", table]):
            run = subprocess.run([self.emberline, *words], capture_output=True, text=True, check=False)
            if run.returncode != 2 or run.stderr != f"emberline: --out {words[-1]}: would overwrite what is read\n":
                self.say(f"{words}: exit {run.returncode}, said {run.stderr}")
            for path, content in before.items():
                if open(path, "rb").read() != content:
                    self.say(f"{words}: overwrote {path}")
                    with open(path, "wb") as file:
                        file.write(content)


def awkward(folder):
    """A table and a bench whose names are keywords, marks of Markdown and ends of comments; two tables of one title."""
    paths = [os.path.join(folder, name) for name in ("odd.yaml", "odd-too.yaml", "bench.yaml")]
    for path in paths[:2]:
        with open(path, "w", encoding="utf-8") as file:
            file.write(AWKWARD)
    with open(paths[2], "w", encoding="utf-8") as file:
        file.write(BENCH % folder)
        for number, (unit, table) in enumerate((("step", "odd.yaml"), ("STRUCT", "odd-too.yaml"), ("task-1", "odd.yaml"))):
            file.write(UNIT % (unit, number + 1, table, "intake: { largest_block: 2 }" if number == 2 else ""))
    return [paths[0], paths[2]]


def main(emberline, root):
    with open(os.path.join(root, "config/schema/register-list.json"), encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft7Validator.check_schema(schema)
    validator = jsonschema.Draft7Validator(schema)
    outputs = Outputs(emberline, root, validator)
    listings = []
    with tempfile.TemporaryDirectory() as folder:
        shipped = sorted(glob.glob(os.path.join(root, "config/registers/*.yaml")) + glob.glob(os.path.join(root, "config/benches/*.yaml")))
        for path in shipped + awkward(folder):
            listings.append(outputs.file(path, folder))
        outputs.refusals(folder)
    tried = 0
    for listing in (listings[0], listings[-1]):
        for path, found in objects(listing):
            if path and path[-1] in ("values", "flags"):  # their keys are words
                continue
            if len([key for key in path if isinstance(key, int) and key > 1]) > 0:  # the first two of everything
                continue
            for key in found:
                changed = copy.deepcopy(listing)
                del at(changed, path)[key]
                tried += 1
                if validator.is_valid(changed):
                    outputs.say(f"{list(path)}: the schema lets it go without '{key}'")
            changed = copy.deepcopy(listing)
            at(changed, path)["something"] = 1
            if validator.is_valid(changed):
                outputs.say(f"{list(path)}: the schema lets 'something' pass")
    for fault in outputs.faults:
        print(fault)
    print(f"{len(outputs.faults)} faults; {outputs.files} files, {outputs.rows} rows, {tried} keys left out")
    return 1 if outputs.faults or outputs.files < 12 or tried < 50 else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
