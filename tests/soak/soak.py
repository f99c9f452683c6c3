#!/usr/bin/env python3
"""A long run of `emberline serve` with everything at once: soak.py EMBERLINE MINUTES SEED

What each of many does is drawn from the seed; who comes first, and what meets what, is not, since lines, panel and
masters are real. The last line says what it came to; exit status 1 and lines that begin with "FAILED" if anything was
not as it has to be. README.md beside this says what that is.
"""
import collections
import json
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import traceback

import faults
import masters
import stepped
import visitors
import watch

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))

CAPTURE_LIMIT_MB = 20
# For an answer on the line that no fault touches, and of the control socket. The time for which the bench's thread stood in
# the queue for a processor does not count: a busy machine is no fault of the bench. At most PATIENCE_AT_ALL_S in any case.
PATIENCE_S = 5
MAKING_UP = 0.25  # of that time it takes to compute what fell due in it
PATIENCE_AT_ALL_S = 120
# While the panel's curves of the last half hour fill up, and the heap with them, and when they have.
FILLS_UP_MIN = 40
FILLING_MOST_kB_PER_MIN = 4000
TREND_MOST_kB_PER_MIN = 100
GROWTH_MOST_kB = 48 * 1024  # from the end of the warm-up to the end
CRASH_WORDS = re.compile(r"terminate called|what\(\)|[Ss]egmentation|Assertion|ERROR: .*Sanitizer|runtime error|core dumped"
                         r"|pure virtual|double free|corrupted|stack smashing|bad_alloc")


class Run:
    def __init__(self, program, minutes, seed):
        self.program, self.seconds, self.seed = program, minutes * 60, seed
        self.folder = tempfile.mkdtemp(prefix="emberline-soak-")
        self.records = os.path.join(self.folder, "records")
        self.control = os.path.join(self.folder, "control.sock")
        self.stop = threading.Event()
        self.count = collections.Counter()  # adds of several threads may be lost now and then: figures, no judgement
        self.failures = []
        self.samples = []
        self.threads = []
        self.longest_answer_s = 0.0

    def fail(self, words):
        if len(self.failures) < 50:
            self.failures.append(words)
            print("FAILED:", words, flush=True)

    # --- the program ---

    def write_bench(self):
        with open(os.path.join(HERE, "bench.yaml"), encoding="utf-8") as source:
            text = source.read()
        text = text.replace("/tmp/emberline/", self.folder + "/").replace("../../config/", ROOT + "/config/")
        self.bench = os.path.join(self.folder, "bench.yaml")
        with open(self.bench, "w", encoding="utf-8") as bench:
            bench.write(text)

    def start(self, arguments=(), limits=None, environment=None, says_to=None):
        """Starts the bench and waits for it; `limits` is a kind of resource and how much of it there is. What it says goes to
        files, or all to `says_to`."""
        os.mkdir(self.records)
        ready = os.path.join(self.folder, "ready.json")
        self.log = open(os.path.join(self.records, "serve.out"), "wb")
        self.errors = open(os.path.join(self.records, "serve.err"), "wb")
        output, errors = (self.log, self.errors) if says_to is None else (says_to, says_to)
        self.process = subprocess.Popen(
            [self.program, "serve", self.bench, "--control", self.control, "--ready-file", ready, "--seed", str(self.seed),
             "--capture", os.path.join(self.records, "lines.pcapng"),
             *(arguments or ["--capture-limit", str(CAPTURE_LIMIT_MB)])],
            stdin=subprocess.DEVNULL, stdout=output, stderr=errors, env={**os.environ, **(environment or {})},
            preexec_fn=(lambda: resource.setrlimit(limits[0], (limits[1], limits[1]))) if limits else None)
        until = time.monotonic() + 30
        while not os.path.exists(ready):
            if self.process.poll() is not None or time.monotonic() > until:
                with open(self.errors.name, encoding="utf-8", errors="replace") as said:
                    sys.exit("soak: the bench did not start: " + said.read())
            time.sleep(0.01)
        with open(ready, encoding="utf-8") as file:
            told = json.load(file)
        self.ports = {name: line["port"] for name, line in told["lines"].items() if "port" in line}
        self.links = {name: line["path"] for name, line in told["lines"].items() if "path" in line}
        self.panel = int(told["panel"].rstrip("/").rsplit(":", 1)[1])
        self.at_rest = watch.descriptors(self.process.pid)

    # --- those who come and go, each in a thread of its own ---

    def again_and_again(self, name, visit, pause_s=0.0):
        """Calls visit(chance) until the run is over. What goes wrong in the visit itself is a fault of this test."""
        def go():
            chance = random.Random(f"{self.seed} {name}")
            while not self.stop.is_set():
                try:
                    visit(chance)
                except Exception:
                    if not self.stop.is_set() and self.process.poll() is None:
                        self.fail(f"{name}: {traceback.format_exc(limit=-2)}")
                self.stop.wait(pause_s * chance.random() * 2)
        thread = threading.Thread(target=go, name=name, daemon=True)
        self.threads.append(thread)
        thread.start()

    def probe(self, chance):
        """A master on the line that no fault touches: every request is answered, in time."""
        master = masters.Polite(("tcp", self.ports["probe"]), PATIENCE_AT_ALL_S)
        try:
            if not master.connected:
                return self.fail("the probing master cannot connect")
            for _ in range(chance.choice([100, 1000])):
                if self.stop.wait(0.05):
                    return
                since = self.now()
                if master.read_input(1, 0x0100, 11) != 11:
                    return self.fail("the probing master got no answer")
                self.longest_answer_s = max(self.longest_answer_s, self.in_time("the probing master", since))
                self.count["probes"] += 1
        finally:
            master.close()

    def now(self):
        return time.monotonic(), watch.queued_s(self.process.pid)

    def in_time(self, who, since):
        """How long an answer took, without the time in the queue for a processor; complained of if too long."""
        took_s, queued_s = (now - then for now, then in zip(self.now(), since))
        if took_s - queued_s * (1 + MAKING_UP) > PATIENCE_S:
            self.fail(f"{who} got an answer after {took_s:.1f} s, of which the bench was kept from a processor for {queued_s:.1f} s")
        return max(0.0, took_s - queued_s)

    def break_something(self, chance):
        line, word = faults.any_action(chance)
        self.say(line, word)
        if chance.random() < 0.02:
            self.calm_down()

    def calm_down(self):
        for line in faults.CALM:
            self.say(line, line.split()[0])

    def say(self, line, word):
        since = self.now()
        try:
            answer = visitors.tell(self.control, line, PATIENCE_AT_ALL_S)
        except OSError as problem:
            return self.fail(f"the control socket did not answer \"{line}\": {problem}")
        self.in_time(f"\"{line}\"", since)
        if answer.startswith("ok"):
            self.count["faults"] += 1
            self.count["did " + word] += 1
        elif word != "reset_cut_out":  # refused while it is hot
            self.fail(f"\"{line}\" was refused: {answer}")

    def invite(self):
        count, stop = self.count, self.stop
        serial = {"east": ("pty", self.links["east"], 115200, "E", 1), "west": ("pty", self.links["west"], 19200, "N", 2)}
        self.again_and_again("probe", self.probe)
        self.again_and_again("faults", self.break_something, 0.4)
        for number in range(3):
            self.again_and_again(f"polite plant {number}", lambda chance: masters.polite_visit(
                ("tcp", self.ports["plant"]), "plant", chance, stop, count), 0.2)
        for line, place in serial.items():
            self.again_and_again(f"polite {line}", lambda chance, line=line, place=place: masters.polite_visit(
                place, line, chance, stop, count), 0.2)
            self.again_and_again(f"rude {line}", lambda chance, line=line: masters.rude_terminal_visit(
                self.links[line], line, chance, stop, count), 1.0)
        for number in range(2):
            for line in ("plant", "gateway"):
                self.again_and_again(f"rude {line} {number}", lambda chance, line=line: masters.rude_visit(
                    self.ports[line], line, chance, stop, count), 0.5)
        action = random.Random(f"{self.seed} panel's actions")
        for number in range(4):
            self.again_and_again(f"visitor {number}", lambda chance: visitors.panel_visit(
                self.panel, chance, stop, count, lambda: faults.any_action(action)), 0.5)
        self.again_and_again("hands", lambda chance: visitors.hands_visit(
            self.control, self.program, chance, stop, count), 1.0)

    # --- the judgement ---

    def observe(self):
        begun = time.monotonic()
        told = begun
        while time.monotonic() < begun + self.seconds:
            time.sleep(1)
            if self.process.poll() is not None:
                return self.fail(f"it ended by itself with status {self.process.returncode}")
            self.samples.append(watch.Sample(self.process.pid, self.records))
            if time.monotonic() > told + 60:
                told = time.monotonic()
                now = self.samples[-1]
                print(f"  after {(told - begun) / 60:.0f} min: {now.memory_kB} kB, {now.descriptors} descriptors, "
                      f"{self.count['faults']} faults, {now.disk_B // 1000} kB on disk", flush=True)

    def all_go(self):
        self.stop.set()
        for thread in self.threads:
            thread.join(20)
            if thread.is_alive():
                self.fail(f"{thread.name} has not come back")

    def judge_descriptors(self):
        until = time.monotonic() + 20  # the panel keeps a connection for 10 s that says nothing
        while len(watch.descriptors(self.process.pid)) > len(self.at_rest) and time.monotonic() < until:
            time.sleep(0.1)
        now = watch.descriptors(self.process.pid)
        if len(now) > len(self.at_rest):
            kinds = collections.Counter(re.sub(r"\d+", "N", name) for name in now)
            kinds.subtract(re.sub(r"\d+", "N", name) for name in self.at_rest)
            self.fail(f"{len(now)} descriptors are open when all are gone, {len(self.at_rest)} were at first; more of "
                      + str({kind: more for kind, more in kinds.items() if more > 0}))
            print(*watch.sockets(set(now) - set(self.at_rest)), sep="\n", flush=True)
        return len(now)

    def judge_memory(self):
        warm = self.samples[len(self.samples) // 3:]
        full = [s for s in warm if s.at_s > self.samples[0].at_s + FILLS_UP_MIN * 60]
        settled = len(full) >= 600  # ten minutes are enough for a straight line
        trend = watch.trend_kB_per_min(full if settled else warm)
        most = TREND_MOST_kB_PER_MIN if settled else FILLING_MOST_kB_PER_MIN
        growth = warm[-1].memory_kB - warm[0].memory_kB if warm else 0
        if trend > most and growth > 0:
            self.fail(f"memory grows by {trend:.0f} kB/min after the warm-up, {most} at most were expected")
        if growth > GROWTH_MOST_kB:
            self.fail(f"memory has grown by {growth} kB after the warm-up, {GROWTH_MOST_kB} at most were expected")
        return warm, trend

    def judge_end(self):
        begun = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        try:
            status = self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            return self.fail("it did not stop within 10 s of SIGTERM")
        took_s = time.monotonic() - begun
        if took_s > 1 + PATIENCE_S * (os.getloadavg()[0] > 2 * (os.cpu_count() or 1)):
            self.fail(f"it took {took_s:.1f} s to stop")
        if status != 0:
            self.fail(f"it ended with status {status}")
        for path in [self.control, *self.links.values()]:
            if os.path.lexists(path):
                self.fail(f"{path} is still there")
        return took_s

    def judge_words(self):
        self.log.close()
        self.errors.close()
        with open(self.errors.name, encoding="utf-8", errors="replace") as errors:
            said = errors.read()
        if CRASH_WORDS.search(said):
            self.fail("standard error: " + said[-2000:])
        with open(self.log.name, encoding="utf-8", errors="replace") as log:
            tail = log.read()[-200000:]
        requests = re.search(r"Stopped after .*: (\d+) requests, (\d+) broken frames, (\d+) connections", tail)
        if not requests:
            self.fail("the closing words are missing")
            return "?", "?"
        return requests.group(1), requests.group(2)

    def judge_disk(self):
        captures = [entry for entry in os.scandir(self.records) if "pcapng" in entry.name]
        on_disk = sum(entry.stat().st_size for entry in captures)
        if not on_disk or on_disk > CAPTURE_LIMIT_MB * 1_000_000:
            self.fail(f"the capture takes {on_disk} bytes; at most {CAPTURE_LIMIT_MB} MB were allowed")
        return on_disk

    def whole(self):
        begun = time.monotonic()
        self.write_bench()
        simulated_h, many, stepped_kB = stepped.soak(self, self.bench, max(3, round(self.seconds / 60)))
        self.count["faults"] += many
        simulated_h += stepped.fifty_days(self)
        self.start()
        self.invite()
        self.observe()
        self.all_go()
        if self.process.poll() is None:
            self.calm_down()
            end_descriptors = self.judge_descriptors()
            warm, trend = self.judge_memory()
            processor_s = watch.processor_s(self.process.pid)
            stop_s = self.judge_end()
            requests, broken = self.judge_words()
            disk_B = self.judge_disk()
            undone = [word for word in faults.WORDS if not self.count["did " + word] and word != "reset_cut_out"]
            if undone and self.seconds >= 300:
                self.fail("never done: " + ", ".join(undone))
            print(f"soak: seed {self.seed}, {(time.monotonic() - begun) / 60:.1f} min real, of these "
                  f"{self.seconds / 60:.1f} min on real lines ({processor_s:.0f} s of processor); {simulated_h:.0f} h simulated in "
                  f"stepped time ({stepped_kB}); {requests} requests, {broken} broken frames, "
                  f"{self.count['faults']} faults, {self.count['connections']} connections, "
                  f"{self.count['panel clients']} panel clients, {self.count['tell clients']} tell clients; memory "
                  f"{self.samples[0].memory_kB} kB at start, {warm[0].memory_kB} warm, {warm[-1].memory_kB} at end, "
                  f"{max(s.memory_kB for s in self.samples)} peak, trend {trend:+.0f} kB/min; descriptors "
                  f"{len(self.at_rest)} at start, {max(s.descriptors for s in self.samples)} peak, {end_descriptors} at end; "
                  f"{disk_B // 1000} kB of capture and {os.path.getsize(self.errors.name) // 1000} kB of journal on disk; longest probe "
                  f"{self.longest_answer_s * 1000:.0f} ms of {self.count['probes']}; stopped in {stop_s or 0:.2f} s; "
                  f"{len(self.failures)} failures")
        if self.failures:
            print("kept:", self.folder)
            return 1
        self.remove()
        return 0

    def remove(self):
        shutil.rmtree(self.folder)

    def kill(self):
        if hasattr(self, "process") and self.process.poll() is None:
            self.process.kill()


def main():
    program, minutes, seed = os.path.abspath(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3])
    missing, known = faults.words_missing(ROOT)
    if missing or known < 30:
        print("FAILED: actions of config/scenario.md that the soak does not do:", *missing)
        return 1
    run = Run(program, minutes, seed)
    try:
        return run.whole()
    finally:
        run.kill()


if __name__ == "__main__":
    sys.exit(main())
