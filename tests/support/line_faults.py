#!/usr/bin/env python3
"""What the program says of each line fault, for config/line-faults*.md: line_faults.py EMBERLINE ROOT [--write]

In a page a line `<!-- made of: ACTION -->`, or `ACTION + ACTION`, stands before a block of code. The block is made by rehearsing a small story in
which that action begins after 20 s: the journal from then on, what the traffic review says, and the first frames on the
line. Says which blocks are not what the program says today, and exits 1 then; with --write it puts them in.
"""
import glob
import os
import re
import struct
import subprocess
import sys
import tempfile

STORY = """scenario: A line fault
bench: {root}/config/benches/annealing-lehr.yaml
ends: 30 s
masters:
  plc:
    lines: [{line}]
    timeout: 500 ms
    program:
      - {{ every: 1 s, read: [soak-heater.load_power, soak-heater.setpoint] }}
      - {{ every: 2 s, write: {{ soak-heater.setpoint: 50 % }} }}
timeline:
{entries}
expect:
  - {{ name: done, after: 28 s, within: 1 s, that: {{ soak-heater.comms_age: {{ at_least: 0 s }} }} }}
"""
BEGINS, LINES, FRAMES = 20.0, 6, 3


def entry(action):
    """`word target key value key value` as an entry of a timeline."""
    words = action.split(" ")
    given = [f"{words[0]}: {words[1]}"]
    rest = words[2:]
    while rest:
        value = rest[1:3] if rest[2:3] in (["%"], ["ms"], ["s"]) else rest[1:2]
        given.append(f"{rest[0]}: {' '.join(value)}")
        rest = rest[1 + len(value):]
    lasts = "" if words[0] == "tcp_reset" else ", for: 4 s"
    return f"  - {{ at: 20 s, {', '.join(given)}{lasts} }}"


def story(root, actions):
    entries = [entry(action) for action in actions.split(" + ")]
    return STORY.format(root=root, entries="\n".join(entries), line="ethernet" if "ethernet" in actions else "field")


def packets(path):
    """(nanoseconds, packet, comment) of each enhanced packet block."""
    with open(path, "rb") as file:
        data = file.read()
    at = 0
    while at < len(data):
        kind, length = struct.unpack_from("<II", data, at)
        if kind == 6:
            high, low, size = struct.unpack_from("<III", data, at + 12)
            options, end, comment = at + 28 + (size + 3) // 4 * 4, at + length - 4, ""
            while options < end:
                code, width = struct.unpack_from("<HH", data, options)
                if code == 1:
                    comment = data[options + 4:options + 4 + width].decode()
                options += 4 + (width + 3) // 4 * 4
            yield high << 32 | low, data[at + 28:at + 28 + size], comment
        at += length


def frame(packet):
    """(from the PLC, what stood on the line) of a packet: tags for a dissector before a frame of RTU, IPv4 and TCP else."""
    if packet[0] == 0x45:
        target = struct.unpack_from(">H", packet, 22)[0]
        return target == 502, packet[20 + (packet[32] >> 4) * 4:].hex(" ")
    at, target = 0, 0
    while True:
        tag, width = struct.unpack_from(">HH", packet, at)
        if tag == 26:
            target = struct.unpack_from(">I", packet, at + 4)[0]
        at += 4 + width
        if tag == 0:
            return target == 20502, packet[at:].hex(" ")


def on_the_line(path):
    """The first frames, with their bytes; how connections come and go is not among them."""
    lines = []
    for stamp, packet, comment in packets(path):
        asked, data = frame(packet)
        if (data or comment) and stamp >= BEGINS * 1_000_000_000 and len(lines) < FRAMES:
            way = "PLC asks" if asked else "answer"
            lines.append(f"{stamp / 1e9:7.3f} s  {way:8}  {data}{'   ' + comment if comment else ''}")
    return lines


def journal(text):
    """From the beginning of the fault on; continued lines are kept with what they continue."""
    lines, wanted = [], False
    for line in text.split("\n\n")[1].split("\n"):
        found = re.match(r" +(\d+):(\d\d):(\d\d\.\d+)  ", line)
        if found:
            wanted = int(found[1]) * 3600 + int(found[2]) * 60 + float(found[3]) >= BEGINS
        if wanted and (found or lines):
            lines.append(line[3:] if found else line[3:])
    return lines


def traffic(text):
    """What the review says of the line, and what it explains; not how often each register was asked for."""
    part = re.search(r"^Traffic\n(.*?)\n\n", text, flags=re.S | re.M)
    lines = [line.strip() for line in part[1].split("\n")] if part else []
    return [line for i, line in enumerate(lines) if i == 0 or re.match(r"\d+ times? ", line)]


def block(program, root, action):
    with tempfile.TemporaryDirectory() as folder:
        path, capture = os.path.join(folder, "story.yaml"), os.path.join(folder, "story.pcapng")
        with open(path, "w", encoding="utf-8") as file:
            file.write(story(root, action))
        done = subprocess.run([program, "rehearse", path, "--capture", capture], capture_output=True, text=True, check=False)
        if done.returncode not in (0, 1):
            raise SystemExit(f"{action}: {done.stderr.strip()}")
        told = journal(done.stdout)
        if len(told) > LINES:
            told = told[:LINES] + ["..."]
        seen = on_the_line(capture)
        return "\n".join(told + [""] + (seen + [""] if seen else []) + traffic(done.stdout))


def main():
    program, root = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
    pattern = re.compile(r"(<!-- made of: (.*?) -->\n```text\n)(.*?)(```\n)", flags=re.S)
    stale, count = [], 0
    for page in sorted(glob.glob(os.path.join(root, "config", "line-faults*.md"))):
        with open(page, encoding="utf-8") as file:
            text = file.read()
        where, excerpts = os.path.relpath(page, root), list(pattern.finditer(text))
        count += len(excerpts)
        for found in excerpts:
            fresh = block(program, root, found[2]) + "\n"
            if fresh != found[3]:
                stale.append(f"{where}: '{found[2]}' is not what the program says; line_faults.py --write renews it")
                text = text.replace(found[0], found[1] + fresh + found[4])
        for section in re.split(r"^## ", text, flags=re.M)[1:]:
            if re.match(r".*`[a-z_]+`", section) and "<!-- made of: " not in section:
                stale.append(f"{where}: no excerpt under '{section.splitlines()[0]}'")
        if "--write" in sys.argv:
            with open(page, "w", encoding="utf-8") as file:
                file.write(text)
    if "--write" in sys.argv:
        return 0
    if count < 16:
        stale.append("config/line-faults*.md have hardly any excerpt")
    print("\n".join(stale) if stale else f"{count} excerpts are what the program says")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
