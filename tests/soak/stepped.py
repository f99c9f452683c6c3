"""The long run in stepped time: days of the bench through `emberline rehearse`, faults at random, in one process."""
import os
import random
import subprocess
import tempfile
import time

import faults
import watch

STRETCH_H = 8
KEPT_MOST_kB = 6 * 1024  # of each stretch until the end: its journal and curves, for reports
LEFT_OUT = {"speed", "learn", "reset_cut_out"}  # what a rehearsal refuses or what would go on to its end
KEYS = {"way", "share", "by", "jitter", "keep", "as", "rate", "bytes", "place", "id", "to", "count"}
HEAD = """scenario: Long run in stepped time
bench: {bench}
ends: {hours} h
masters:
  plant-plc:
    lines: [plant, gateway]
    program:
      - {{ every: 1 s, read: [kiln-top.state, kiln-top.load_power] }}
      - {{ every: 1 s, read: [kiln-bottom.state] }}
      - {{ every: 2 s, write: {{ kiln-top.setpoint: 40 % }} }}
      - {{ every: 2 s, write: {{ fan-heater.setpoint: 30 % }} }}
  bus-plc:
    lines: [west]
    program:
      - {{ every: 500 ms, read: [lamps.state] }}
      - {{ every: 2 s, write: {{ lamps.setpoint: 55 %, dryer.setpoint: 20 % }} }}
timeline:
"""
TAIL = """expect:
  - { name: goes on to the end, from: 7 h, that: { supply.frequency: { above: 1 Hz } } }
"""


def entry(line, at_s):
    """A line as `tell` takes it, as an entry of a timeline: "cut east way both for 2 s"."""
    line, _, lasts = line.partition(" for ")
    word, target, *rest = line.split()
    text = f"at: {at_s} s, {word}: {target}"
    for part in rest:
        text += f", {part}:" if part in KEYS else f" {part}"
    return "  - { " + text + (f", for: {lasts}" if lasts else "") + " }\n"


def scenario(bench, seed):
    """A shift with two masters that poll and write, in which something breaks for a while every minute. And how often."""
    chance = random.Random(f"{seed} stepped")
    text, many, at_s = HEAD.format(bench=bench, hours=STRETCH_H), 0, 10
    while at_s < STRETCH_H * 3600 - 60:
        line, word = faults.any_action(chance)
        if word in LEFT_OUT:
            continue
        if word not in faults.AT_ONCE and " for " not in line:
            line += " for 5 s"
        text += entry(line, at_s)
        many += 1
        at_s += chance.randint(20, 100)
    return text + TAIL, many


def fifty_days(run):
    """One bench for fifty days, through what a counter of 32 bits would not survive; the simulated hours."""
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "fifty-days.yaml")
    done = subprocess.run([run.program, "rehearse", path], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        run.fail(f"{path} ended with status {done.returncode}: " + (done.stdout + done.stderr)[-1500:])
    return 1194


def soak(run, bench, stretches):
    """So many stretches one after the other in one process; simulated hours, faults, and memory in words."""
    files, many = [], 0
    for number in range(stretches):
        text, faults_in_it = scenario(bench, run.seed + number)
        many += faults_in_it
        files.append(os.path.join(run.folder, f"stretch-{number}.yaml"))
        with open(files[-1], "w", encoding="utf-8") as file:
            file.write(text)
    memory = []
    with tempfile.TemporaryFile("w+") as said:
        with subprocess.Popen([run.program, "rehearse", *files, "--seed", str(run.seed)], stdin=subprocess.DEVNULL,
                              stdout=said, stderr=subprocess.STDOUT) as process:
            while process.poll() is None:
                try:
                    memory.append(watch.Sample(process.pid, run.folder).memory_kB)
                except (OSError, KeyError):  # it has just ended
                    break
                time.sleep(0.1)
        if process.returncode != 0:
            said.seek(0)
            run.fail(f"the rehearsals ended with status {process.returncode}: " + said.read()[-1500:])
    share = max(1, len(memory) // stretches)
    first, last = max(memory[:share], default=0), max(memory[-share:], default=0)
    if last - first > KEPT_MOST_kB * (stretches - 1):
        run.fail(f"rehearsing: {first} kB at most in the first of {stretches} stretches, {last} in the last")
    return stretches * STRETCH_H, many, f"{first} kB at most in the first {STRETCH_H} h, {last} in the last"
