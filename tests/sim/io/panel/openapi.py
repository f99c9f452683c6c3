#!/usr/bin/env python3
"""Holds what a running panel answers against its own description: openapi.py EMBERLINE ROOT

Serves shipped benches, lets a master poll them, does some actions, and validates every answer against the schemas of
/api/openapi.json (OpenAPI 3.1, so JSON Schema 2020-12). The schemas have to refuse an answer when a key is missing in
any of its objects, or one more is there. Prints one line for each difference and exits 1.
"""
import contextlib
import copy
import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request

import jsonschema

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../../support"))
from places import at, objects  # noqa: E402

BENCHES = ["tunnel-dryer", "water-heater"]
PATIENCE = 60


def ask(url, path, body=None):
    request = urllib.request.Request(url + path, None if body is None else json.dumps(body).encode(),
                                     {"Content-Type": "application/json"})
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
            return answer.status, answer.headers.get_content_type(), answer.read()
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.headers.get_content_type(), refusal.read()


class Description:
    def __init__(self, document):
        self.document = document
        for schema in document["components"]["schemas"].values():
            jsonschema.Draft202012Validator.check_schema(schema)

    def validator(self, schema):
        return jsonschema.Draft202012Validator({**schema, "components": self.document["components"]})

    def answer(self, path, method, status):
        found = self.document["paths"][path][method]["responses"].get(str(status))
        if found and "$ref" in found:
            return self.document["components"]["responses"][found["$ref"].rsplit("/", 1)[1]]
        return found


def loose(path):
    """Objects whose keys are names of a bench, and may be any."""
    return path[-1:] in (("values",), ("words",), ("bits",))


def check(description, name, schema, document, problems):
    validator = description.validator(schema)
    for error in validator.iter_errors(document):
        problems.append(f"{name}: {list(error.absolute_path)}: {error.message[:200]}")
    for path, found in list(objects(document))[:200]:
        if loose(path):
            continue
        changed = copy.deepcopy(document)
        at(changed, path)["nobody-said"] = 1
        if validator.is_valid(changed):
            problems.append(f"{name}: {list(path)}: takes a key that is not described")
        for key in found:
            if key in ("place", "speed", "words", "bits"):  # only where there is something to say
                continue
            changed = copy.deepcopy(document)
            del at(changed, path)[key]
            if validator.is_valid(changed):
                problems.append(f"{name}: {list(path)}: does not miss {key}")


@contextlib.contextmanager
def running(emberline, name, folder, words):
    """The program with a panel of its own, until the block ends; gives the panel's address."""
    ready = os.path.join(folder, "ready.json")
    program = subprocess.Popen([emberline, *words, "--panel", "127.0.0.1:0", "--ready-file", ready],
                               stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    threading.Thread(target=lambda: [None for _ in program.stdout], daemon=True).start()
    try:
        end = time.monotonic() + PATIENCE
        while not os.path.exists(ready):
            if program.poll() is not None or time.monotonic() > end:
                sys.exit(f"{name}: emberline {words[0]} did not begin")
            time.sleep(0.02)
        with open(ready, encoding="utf-8") as file:
            yield json.load(file)["panel"].rstrip("/")
    finally:
        program.send_signal(signal.SIGINT)
        program.wait(PATIENCE)


def served(emberline, root, bench, problems):
    with tempfile.TemporaryDirectory() as folder:
        text = open(os.path.join(root, "config/benches", bench + ".yaml"), encoding="utf-8").read()
        text = text.replace("../registers/", os.path.join(root, "config/registers/"))
        # No port and no link that another test may want.
        lines = []
        for line in text.split("\n"):
            if "tcp: 127.0.0.1:" in line:
                head, tail = line.split("tcp: 127.0.0.1:", 1)
                line = head + "tcp: 127.0.0.1:0" + tail.lstrip("0123456789")
            lines.append(line.replace("/tmp/emberline/", folder + "/"))
        path = os.path.join(folder, bench + ".yaml")
        with open(path, "w", encoding="utf-8") as file:
            file.write("\n".join(lines))
        control = ["--control", os.path.join(folder, "control.sock")]
        with running(emberline, bench, folder, ["serve", path, *control]) as url:
            look(emberline, path, url, bench, problems)


def taught(emberline, root, problems):
    """Some steps of a lesson, told to the trainer and to a class, blind and not."""
    name = "lesson-two-step-recovery"
    with tempfile.TemporaryDirectory() as folder:
        words = ["lesson", os.path.join(root, "scenarios", name + ".yaml")]
        with running(emberline, name, folder, words) as url:
            description = Description(json.loads(ask(url, "/api/openapi.json")[2]))

            def hear():
                for path in ("/api/lesson", "/api/lesson?view=class"):
                    judge(description, f"{name} {path}", "/api/lesson", "get", ask(url, path), problems)

            hear()
            for deed in ({"go": "predict", "answer": 1}, {"go": "next"}, {"go": "dance"}):
                judge(description, f"{name} POST {deed}", "/api/lesson", "post", ask(url, "/api/lesson", deed), problems)
                hear()
            ask(url, "/api/blind", {"on": True})
            hear()


def look(emberline, path, url, bench, problems):
    status, _, body = ask(url, "/api/openapi.json")
    if status != 200:
        sys.exit(f"{bench}: no description: {status}")
    description = Description(json.loads(body))
    what = json.loads(ask(url, "/api/bench")[2])
    unit, line = what["units"][0]["name"], what["lines"][0]["name"]
    zone = what["zones"][0]["name"]
    polled = next(name for name in what["units"][0]["lines"] if any(
        found["name"] == name and found["kind"] != "tcp" for found in what["lines"]))
    subprocess.run([emberline, "read", "--bench", path, polled, unit, "setpoint", "state"], capture_output=True, check=False)
    if not json.loads(ask(url, "/api/traffic")[2])["frames"]:
        problems.append(f"{bench}: no traffic was seen")
    questions = [("/api/bench",) * 2, ("/api/state",) * 2, ("/api/journal",) * 2, ("/api/traffic",) * 2,
                 ("/api/review",) * 2, (f"/api/waves/{unit}", "/api/waves/{unit}"),
                 (f"/api/trend?signals={unit}.output,{zone}.measured", "/api/trend"),
                 ("/api/trend.csv", "/api/trend.csv"), ("/api/capture.pcapng",) * 2, ("/metrics",) * 2,
                 ("/api/session",) * 2, ("/healthz",) * 2, ("/",) * 2, ("/class",) * 2,
                 ("/api/trend", "/api/trend"), ("/api/waves/nobody", "/api/waves/{unit}"), ("/api/lesson",) * 2,
                 ("/api/journal?after=x", "/api/journal")]
    deeds = [("/api/actions", {"do": f"cut {line} for 10 s"}), ("/api/actions", {"do": f"open {unit}.terminal.enable"}),
             ("/api/actions", {"do": f"sensor_broken {zone}"}), ("/api/actions", {"do": "dance"}), ("/api/actions", {}),
             ("/api/blind", {"on": True})]
    for number, deed in enumerate([None, *deeds]):
        if deed is not None:
            judge(description, f"{bench} POST {deed}", deed[0], "post", ask(url, *deed), problems)
        if number not in (0, 3, len(deeds)):  # before, with faults in force, and for a blind class
            continue
        for asked, described in questions:
            judge(description, f"{bench} {asked}", described, "get", ask(url, asked), problems)
            watched = asked + ("&" if "?" in asked else "?") + "view=class"
            judge(description, f"{bench} {watched}", described, "get", ask(url, watched), problems)


def judge(description, name, path, method, answer, problems):
    status, kind, body = answer
    described = description.answer(path, method, status)
    if described is None:
        problems.append(f"{name}: {status} is not described")
        return
    content = described.get("content", {})
    if kind not in content:
        problems.append(f"{name}: {status}: a {kind} is not described")
    elif kind == "application/json":
        check(description, name, content[kind]["schema"], json.loads(body), problems)


def main(emberline, root):
    problems = []
    for bench in BENCHES:
        served(emberline, root, bench, problems)
    taught(emberline, root, problems)
    for problem in dict.fromkeys(problems):
        print(problem)
    sys.exit(1 if problems else 0)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
