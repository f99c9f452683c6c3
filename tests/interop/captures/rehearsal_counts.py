#!/usr/bin/env python3
"""Runs rehearsals with --capture and has tshark count: as many queries and answers on every line as the
traffic review says, nothing malformed, and two runs with one seed write the same capture.

    rehearsal_counts.py EMBERLINE SCENARIO...
"""
import collections
import json
import os
import subprocess
import sys
import tempfile


def rehearse(emberline, scenario, capture, verdicts):
    done = subprocess.run([emberline, "rehearse", scenario, "--capture", capture, "--json", verdicts],
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    if done.returncode != 0:
        sys.exit(f"{scenario}: exit status {done.returncode}\n{done.stdout}")
    with open(verdicts) as file:
        return json.load(file)["rehearsals"][0]["traffic"]


def packets(capture):
    # Writes of one coil or register look alike both ways; their port tells them apart.
    done = subprocess.run(["tshark", "-n", "-r", capture, "-o", "mbrtu.tcp.port:20502", "-T", "fields",
                           "-e", "frame.interface_name", "-e", "_ws.col.Info", "-e", "_ws.malformed"],
                          stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, check=True)
    return [line.split("\t") for line in done.stdout.splitlines()]


def check(emberline, scenario, folder):
    capture = os.path.join(folder, "one.pcapng")
    again = os.path.join(folder, "two.pcapng")
    traffic = rehearse(emberline, scenario, capture, os.path.join(folder, "one.json"))
    rehearse(emberline, scenario, again, os.path.join(folder, "two.json"))
    with open(capture, "rb") as one, open(again, "rb") as two:
        if one.read() != two.read():
            return f"{scenario}: two runs with one seed write different captures"
    seen = collections.Counter()
    for interface, info, malformed in packets(capture):
        if malformed:
            return f"{scenario}: tshark calls a frame malformed: {info}"
        if "Query" in info:
            seen[interface, "requests"] += 1
        elif "Response" in info or "Exception" in info:
            seen[interface, "answers"] += 1
        elif "unknown" in info.lower():
            return f"{scenario}: tshark cannot tell what this is: {info}"
    counted = {(line["line"], what): line[what] for line in traffic["lines"] for what in ("requests", "answers")}
    if not counted or counted != dict(seen):
        return f"{scenario}: the review counts {counted}, tshark sees {dict(seen)}"
    print(f"{os.path.basename(scenario)}: {counted}")
    return None


def main():
    emberline, *scenarios = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        problems = [problem for scenario in scenarios if (problem := check(emberline, scenario, folder))]
    if problems:
        sys.exit("\n".join(problems))


main()
