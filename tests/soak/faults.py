"""Everything that can be done to the bench of the long run, by chance, from one seed."""
import os
import re

RTU = ["gateway", "east", "west"]
TCP = ["plant", "gateway"]
LINES = ["plant", "gateway", "east", "west"]
UNITS = ["kiln-top", "kiln-bottom", "lamps", "warmer", "dryer", "fan-heater"]
WIRES = [unit + ".terminal.enable" for unit in UNITS] + ["main"]
ZONES = ["kiln", "oven"]
WAYS = ["both", "to-units", "to-masters"]


def leg(rng):
    return rng.choice(UNITS) + rng.choice(["", ".l1", ".l2"])


def phase(rng):
    return "supply" + rng.choice(["", ".l1", ".l2", ".l3"])


def thyristor(rng):
    return rng.choice(["kiln-top", "lamps", "kiln-bottom"]) + rng.choice([".l1", ".l1.forward", ".l2.backward"])


# word: what it is done to and with. A word of config/scenario.md that is missing here is complained of.
WORDS = {
    "cut": lambda r: f"{r.choice(LINES)} way {r.choice(WAYS)}",
    "drop_requests": lambda r: f"{r.choice(LINES)} share {r.randint(1, 100)} %",
    "drop_answers": lambda r: f"{r.choice(LINES)} share {r.randint(1, 100)} %",
    "delay": lambda r: f"{r.choice(LINES)} by {r.randint(1, 900)} ms jitter {r.randint(0, 300)} ms way {r.choice(WAYS[1:])}",
    "truncate": lambda r: f"{r.choice(LINES)} share {r.randint(1, 100)} % keep {r.randint(1, 20)}",
    "repeat_answer": lambda r: f"{r.choice(LINES)} share {r.randint(1, 100)} %",
    "late_answer": lambda r: f"{r.choice(LINES)} share {r.randint(1, 100)} %",
    "wrong_id": lambda r: f"{r.choice(LINES)} as {r.randint(1, 247)} share {r.randint(1, 100)} %",
    "bit_errors": lambda r: f"{r.choice(RTU)} rate {r.choice(['0.0001', '0.01', '0.5'])} way {r.choice(WAYS)}",
    "noise": lambda r: f"{r.choice(RTU)} share {r.randint(1, 100)} % bytes {r.randint(1, 64)}"
                       f" place {r.choice(['before', 'over', 'behind', 'anywhere'])}",
    "echo": lambda r: r.choice(RTU),
    "collision": lambda r: f"{r.choice(['gateway id 12', 'east id 15', 'west id 14'])}",
    "tcp_reset": lambda r: r.choice(TCP),
    "tcp_refused": lambda r: r.choice(TCP),
    "tcp_silent": lambda r: r.choice(TCP),
    "half_open": lambda r: r.choice(TCP),
    "restore": lambda r: r.choice(LINES),
    "open": lambda r: r.choice(WIRES),
    "close": lambda r: r.choice(WIRES),
    "release": lambda r: r.choice(WIRES),
    "cycle": lambda r: r.choice(WIRES),
    "power_off": lambda r: r.choice(UNITS),
    "power_on": lambda r: r.choice(UNITS),
    "stuck_busy": lambda r: r.choice(UNITS),
    "free": lambda r: r.choice(UNITS),
    "local": lambda r: f"{r.choice(UNITS)} to {r.randint(0, 100)} %",
    "phase_lost": phase,
    "phase_back": phase,
    "dip": lambda r: f"{phase(r)} to {r.randint(0, 130)} %",
    "frequency": lambda r: f"supply to {r.choice([47, 50, 50, 52.5, 60])} Hz",
    "element_open": lambda r: r.choice(["kiln-top.l1", "kiln-bottom.l2", "lamps.l3"]) + " count 1",
    "leg_open": leg,
    "ageing": lambda r: f"{leg(r)} to {r.randint(50, 300)} %",
    "thyristor_open": thyristor,
    "thyristor_shorted": thyristor,
    "misfiring": lambda r: f"{thyristor(r)} share {r.randint(1, 60)} %",
    "fuse_open": leg,
    "fan_failed": lambda r: "kiln-top",
    "learn": lambda r: r.choice(UNITS),
    "sensor_broken": lambda r: r.choice(ZONES),
    "sensor_offset": lambda r: f"{r.choice(ZONES)} by {r.randint(-100, 100)} K",
    "reset_cut_out": lambda r: r.choice(ZONES),
    "speed": lambda r: f"plant to {r.choice([1, 10, 100])}",
    "mend": lambda r: r.choice(UNITS + ZONES + ["supply"]),
}
# What ends by itself or at once takes no "for".
AT_ONCE = {"tcp_reset", "restore", "release", "cycle", "power_on", "free", "local", "phase_back", "learn", "reset_cut_out",
           "mend"}
CALM = ([f"restore {line}" for line in LINES] + [f"release {wire}" for wire in WIRES] +
        [f"power_on {unit}" for unit in UNITS] + [f"free {unit}" for unit in UNITS] +
        [f"mend {what}" for what in UNITS + ZONES + ["supply"]] +
        [f"reset_cut_out {zone}" for zone in ZONES] + ["speed plant to 1"])


def any_action(rng):
    """A line for `tell`, and its word."""
    word = rng.choice(list(WORDS))
    line = f"{word} {WORDS[word](rng)}"
    if word not in AT_ONCE and rng.random() < 0.7:
        line += f" for {rng.randint(100, 8000)} ms"
    return line, word


def words_missing(root):
    """Words of the reference's table that nobody here says."""
    with open(os.path.join(root, "config", "scenario.md"), encoding="utf-8") as page:
        timeline = page.read().split("**Actions**", 1)[1].split("\n## ", 1)[0]
    said = set()
    for row in re.findall(r"^\| (`[^|]*) \|", timeline, re.M):
        said.update(re.findall(r"`(\w+)`", row))
    return sorted(said - set(WORDS)), len(said)
