"""The standard function blocks of IEC 61131-3 (edition 3, Tables 43 to 46, from memory): inputs, outputs, what they do."""


def r_trig(f, now):
    f["Q"], f["_WAS"] = f["CLK"] and not f["_WAS"], f["CLK"]


def f_trig(f, now):
    # To the letter of the standard: an input that is FALSE at the very first call counts as an edge.
    f["Q"], f["_WAS"] = not f["CLK"] and not f["_WAS"], not f["CLK"]


def set_reset(f, now):
    f["Q1"] = f["S1"] or (not f["R"] and f["Q1"])


def reset_set(f, now):
    f["Q1"] = not f["R1"] and (f["S"] or f["Q1"])


def on_delay(f, now):
    if f["IN"] and not f["_WAS"]:
        f["_SINCE"] = now
    f["_WAS"] = f["IN"]
    f["ET"] = min(now - f["_SINCE"], f["PT"]) if f["IN"] else 0
    f["Q"] = f["IN"] and f["ET"] >= f["PT"]


def off_delay(f, now):
    if not f["IN"] and f["_WAS"]:
        f["_SINCE"] = now
        f["Q"] = True
    f["_WAS"] = f["IN"]
    if f["IN"]:
        f["Q"], f["ET"] = True, 0
    elif f["Q"]:
        f["ET"] = min(now - f["_SINCE"], f["PT"])
        f["Q"] = f["ET"] < f["PT"]


def pulse(f, now):
    if f["IN"] and not f["_WAS"] and not f["Q"]:
        f["_SINCE"], f["Q"] = now, True
    if f["Q"]:
        f["ET"] = min(now - f["_SINCE"], f["PT"])
        f["Q"] = f["ET"] < f["PT"]
    if not f["Q"] and not f["IN"]:
        f["ET"] = 0
    f["_WAS"] = f["IN"]


def count_up(f, now):
    if f["R"]:
        f["CV"] = 0
    elif f["CU"] and not f["_WAS"] and f["CV"] < 32767:
        f["CV"] += 1
    f["_WAS"] = f["CU"]
    f["Q"] = f["CV"] >= f["PV"]


def count_down(f, now):
    if f["LD"]:
        f["CV"] = f["PV"]
    elif f["CD"] and not f["_WAS"] and f["CV"] > -32768:
        f["CV"] -= 1
    f["_WAS"] = f["CD"]
    f["Q"] = f["CV"] <= 0


TIMER = ({"IN": "BOOL", "PT": "TIME"}, {"Q": "BOOL", "ET": "TIME"})
NATIVE = {
    "R_TRIG": ({"CLK": "BOOL"}, {"Q": "BOOL"}, r_trig),
    "F_TRIG": ({"CLK": "BOOL"}, {"Q": "BOOL"}, f_trig),
    "SR": ({"S1": "BOOL", "R": "BOOL"}, {"Q1": "BOOL"}, set_reset),
    "RS": ({"S": "BOOL", "R1": "BOOL"}, {"Q1": "BOOL"}, reset_set),
    "TON": (*TIMER, on_delay), "TOF": (*TIMER, off_delay), "TP": (*TIMER, pulse),
    "CTU": ({"CU": "BOOL", "R": "BOOL", "PV": "INT"}, {"Q": "BOOL", "CV": "INT"}, count_up),
    "CTD": ({"CD": "BOOL", "LD": "BOOL", "PV": "INT"}, {"Q": "BOOL", "CV": "INT"}, count_down),
}
