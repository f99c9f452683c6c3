"""Literals of IEC 61131-3: numbers, durations, texts."""
import re

from st_types import FRACTION, WHOLE, StError, Text, in_range, rounded


def integer(text):
    text = text.replace("_", "")
    if "#" in text:
        base, digits = text.split("#")
        return int(digits, int(base))
    return int(text)


def duration(text):
    """In nanoseconds."""
    head, rest = text.upper().split("#")
    sign = -1 if rest.startswith("-") else 1
    steps = {"D": 86_400_000_000_000, "H": 3_600_000_000_000, "M": 60_000_000_000, "S": 1_000_000_000, "MS": 1_000_000,
             "US": 1_000, "NS": 1}
    total, last = 0, None
    parts = re.findall(r"([0-9][0-9_]*(?:\.[0-9_]+)?)(MS|US|NS|D|H|M|S)", rest)
    for i, (number, unit) in enumerate(parts):
        if last is not None and steps[unit] >= last:
            raise StError(f"{text}: units stand from the largest to the smallest")
        if "." in number and i + 1 < len(parts):
            raise StError(f"{text}: only the last part may have a fraction")
        last = steps[unit]
        whole, _, fraction = number.replace("_", "").partition(".")
        total += int(whole) * last + (int(fraction) * last // 10 ** len(fraction) if fraction else 0)
    return ("LTIME" if head.startswith("L") else "TIME"), sign * total


def characters(text):
    quote, body = text[0], text[1:-1]
    digits = 2 if quote == "'" else 4
    names = {"L": "\n", "N": "\n", "P": "\f", "R": "\r", "T": "\t"}

    def one(found):
        code = found[1].upper()
        return names.get(code, code) if len(code) == 1 else chr(int(code, 16))
    return re.sub(rf"\$([$'\"LNPRTlnprt]|[0-9A-Fa-f]{{{digits}}})", one, body)


def literal(token):
    kind, text = token.type, str(token)
    if kind == "INTEGER":
        return WHOLE, integer(text)
    if kind == "REAL":
        return FRACTION, float(text.replace("_", ""))
    if kind == "BOOLEAN":
        return "BOOL", text.upper() == "TRUE"
    if kind == "DURATION":
        return duration(text)
    if kind in ("STRING", "TYPED_STRING"):
        text = text[text.index("#") + 1:] if kind == "TYPED_STRING" else text
        value = characters(text)
        return Text(len(value), text[0] == '"'), value
    name, rest = text.upper().split("#", 1)
    if kind == "TYPED_BOOL":
        return "BOOL", rest in ("1", "TRUE")
    if kind == "TYPED_REAL":
        return name, rounded(float(rest.replace("_", "")), name)
    sign = -1 if rest.startswith("-") else 1
    return name, in_range(sign * integer(rest.lstrip("+-")), name)
