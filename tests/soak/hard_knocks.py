#!/usr/bin/env python3
"""Knocks that come from the machine and not from a line: hard_knocks.py EMBERLINE

A full disk under a capture, a stopped process, a terminal that nobody reads, a clock that jumps. Each prints what came
of it; exit status 1 if one was not as it has to be. What is waited for has a deadline far beyond what it takes.
"""
import glob
import os
import re
import resource
import signal
import socket
import struct
import sys
import time

import masters
import soak
import visitors
import watch

DEADLINE_S = 60


class Knocked(soak.Run):
    """A bench as in the long run, with changes to its file, limits and environment, and further arguments."""

    def __init__(self, program, changes=(), arguments=(), **with_it):
        super().__init__(program, 1, 1)
        self.write_bench()
        with open(self.bench, encoding="utf-8") as file:
            text = file.read()
        for what, by in changes:
            assert what in text, what
            text = text.replace(what, by)
        with open(self.bench, "w", encoding="utf-8") as file:
            file.write(text)
        self.start(list(arguments), **with_it)
        self.master = masters.Polite(("tcp", self.ports["probe"]), DEADLINE_S)

    def expect(self, holds, words):
        if not holds:
            self.fail(words)

    def ask(self):
        """State and the like of the unit on the line that nothing is done to: 11 registers from its state on."""
        self.expect(self.master.read_input(1, 0x0100, 11) == 11, "no answer")
        return list(self.master.words[:11])

    def said(self):
        with open(self.errors.name, encoding="utf-8", errors="replace") as file:
            return file.read()

    def wait_until(self, holds, words):
        until = time.monotonic() + DEADLINE_S
        while not holds() and time.monotonic() < until:
            time.sleep(0.01)
        self.expect(holds(), words)

    def end(self, status=0):
        self.master.close()
        self.process.send_signal(signal.SIGTERM)
        self.expect(self.process.wait(DEADLINE_S) == status, f"it ended with status {self.process.returncode}, not {status}")
        with open(self.log.name, encoding="utf-8") as log:
            return log.read()


def blocks_are_whole(path):
    """How many blocks a pcapng file has; -1 if it does not end with a whole one (draft-ietf-opsawg-pcapng, 3.1)."""
    with open(path, "rb") as file:
        data = file.read()
    at = count = 0
    while at < len(data):
        if at + 12 > len(data):
            return -1
        length = struct.unpack_from("<I", data, at + 4)[0]
        if length < 12 or at + length > len(data) or struct.unpack_from("<I", data, at + length - 4)[0] != length:
            return -1
        at += length
        count += 1
    return count


def disk_full(program):
    most = 100_000
    run = Knocked(program, limits=(resource.RLIMIT_FSIZE, most))
    capture = os.path.join(run.records, "lines.pcapng")
    until = time.monotonic() + DEADLINE_S
    while "ends early" not in run.said() and time.monotonic() < until:
        run.ask()
    lines = [line for line in run.said().splitlines() if "ends early" in line]
    run.expect(len(lines) == 1 and "nothing later than" in lines[0], f"one line was expected that says what is lost: {lines}")
    for _ in range(100):
        run.ask()
    whole = blocks_are_whole(capture)
    run.expect(os.path.getsize(capture) <= most and whole > 100, f"the capture has {whole} whole blocks")
    run.end(status=3)
    print(f"disk full: {whole} whole blocks, then: {lines[0] if lines else ''}")
    return run


def disk_bounded(program):
    run = Knocked(program, arguments=["--capture-limit", "1"])
    capture = os.path.join(run.records, "lines.pcapng")
    older = os.path.join(run.records, "lines.old.pcapng")
    most, turns, before = 0, 0, 0
    until = time.monotonic() + DEADLINE_S
    while turns < 3 and time.monotonic() < until:
        for _ in range(50):
            run.ask()
        size = os.path.getsize(capture)
        turns += size < before
        before = size
        most = max(most, size + (os.path.getsize(older) if os.path.exists(older) else 0))
    run.end()
    whole = [blocks_are_whole(path) for path in (capture, older)]
    run.expect(turns >= 3 and most <= 1_000_000 and min(whole) > 6, f"{turns} turns, {most} bytes at most, blocks {whole}")
    print(f"disk bounded: begun anew {turns} times, {most} bytes at most for 1 MB")
    return run


def stopped(program):
    timeout_s, stop_s = 1, 3
    run = Knocked(program, changes=[("timeout: 5 s, policy: latch-to-inhibit", f"timeout: {timeout_s} s, policy: latch-to-inhibit")])
    before = run.ask()
    memory = watch.Sample(run.process.pid, run.records).memory_kB
    run.process.send_signal(signal.SIGSTOP)
    time.sleep(stop_s)
    run.process.send_signal(signal.SIGCONT)
    after = run.ask()
    # Simulated time has gone on: nobody was heard for longer than the watchdog waits, so it has acted, at its instant.
    run.expect(after[0] != before[0], f"the watchdog has not acted: state {after[0]} as before")
    run.wait_until(lambda: "probe-heater" in run.said() and "comms" in run.said(), "the journal does not speak of the watchdog")
    for _ in range(50):
        run.ask()
    grown = watch.Sample(run.process.pid, run.records).memory_kB - memory
    run.expect(grown < 8192, f"memory has grown by {grown} kB")
    words = run.end()
    seconds = float(re.search(r"Stopped after ([0-9.]+) s", words).group(1))
    run.expect(seconds >= stop_s, f"{seconds} s of simulated time, of which it stood for {stop_s}")
    print(f"stopped for {stop_s} s: state {before[0]} -> {after[0]}, memory +{grown} kB")
    return run


def nobody_reads(program):
    run = Knocked(program)
    path = run.links["west"]
    frame = bytes([13, 3, 0, 0, 0, 7])
    frame += masters.crc(frame)
    terminal = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    # The panel keeps the last 20,000 frames, so memory is looked at from where it has them.
    many, full = 50000, 25000
    sent = memory = 0
    until = time.monotonic() + 2 * DEADLINE_S
    while sent < many and time.monotonic() < until:
        try:
            os.write(terminal, frame)
            sent += 1
        except BlockingIOError:
            time.sleep(0.001)
        if sent == full and not memory:
            memory = watch.Sample(run.process.pid, run.records).memory_kB
    grown = watch.Sample(run.process.pid, run.records).memory_kB - memory
    os.close(terminal)
    run.expect(sent == many and grown < 8192, f"{sent} requests that nobody read the answers of: memory +{grown} kB")
    # Until the bench has taken up what the system still brings. Who opens the terminal in the very instant may meet that.
    counts = [-1, -2]
    while counts[-1] != counts[-2] and time.monotonic() < until:
        run.ask()
        time.sleep(0.2)
        counts.append(int(re.search(r"west: (\d+) requests", visitors.tell(run.control, "traffic")).group(1)))
    following = masters.Polite(("pty", path, 19200, "N", 2), 5)
    good = 0
    for _ in range(20):
        masters.MODBUS.modbus_set_slave(following.context, 13)
        good += masters.MODBUS.modbus_read_registers(following.context, 0x0010, 2, following.words) == 2
    following.close()
    run.expect(good == 20, f"the next master got {good} answers of 20")
    run.end()
    print(f"nobody reads: {sent} requests, memory +{grown} kB, the next master got {good} answers of 20")
    return run


def on_pipe(program):
    """A bench that says everything into a pipe, and the end where that can be read."""
    reading, writing = os.pipe()
    run = Knocked(program, says_to=writing)
    os.close(writing)
    return run, reading


def gone(run):
    """What a bench puts up is not there any more."""
    left = [path for path in [run.control, os.path.join(run.folder, "ready.json"), *run.links.values()] if os.path.lexists(path)]
    run.expect(not left, f"left behind: {left}")


def tell_often(run, pairs):
    """Cuts a line and restores it so many times, over one connection; a line in the journal each, some 60 bytes."""
    with socket.socket(socket.AF_UNIX) as hands:
        hands.settimeout(DEADLINE_S)
        hands.connect(run.control)
        answers = hands.makefile("r", encoding="utf-8")
        for _ in range(pairs // 100):
            hands.sendall(b"cut west\nrestore west\n" * 100)
            said = [answers.readline() for _ in range(200)]
            run.expect(said == ["ok cut west\n", "ok restore west\n"] * 100, f"not all was done: {said[:3]} ...")


def log_unread(program):
    """A pipe for its words that somebody holds and does not empty, as a pager or a terminal with Ctrl-S."""
    run, reading = on_pipe(program)
    before = run.ask()
    tell_often(run, 20_000)  # the pipe takes 64 kB of it, the bench keeps 1 MB
    run.expect(run.ask()[0] == before[0], "the bench does not answer as before")
    memory = watch.Sample(run.process.pid, run.records).memory_kB
    run.expect(memory < 100_000, f"{memory} kB for words that nobody reads")
    run.end(status=3)
    gone(run)
    os.close(reading)
    print(f"log unread: 40000 actions told, answered all along, {memory} kB, ended by SIGTERM")
    return run


def log_read_late(program):
    """The same, and then somebody reads it: what was left out is said, and the log goes on."""
    run, reading = on_pipe(program)
    tell_often(run, 20_000)
    os.set_blocking(reading, False)
    said = b""

    def read_until(words):
        nonlocal said
        until = time.monotonic() + DEADLINE_S
        while words not in said and time.monotonic() < until:
            try:
                said += os.read(reading, 1_000_000)
            except BlockingIOError:
                time.sleep(0.01)
        return words in said

    run.expect(read_until(b" left out here"), "nobody says that lines were left out")
    count = re.search(rb"emberline: (\d+) texts were left out here", said)
    said = b""
    visitors.tell(run.control, "cut east", DEADLINE_S)
    run.expect(read_until(b" east: "), "the log does not go on")
    run.master.close()
    run.process.send_signal(signal.SIGTERM)
    run.expect(read_until(b"Stopped after"), "it does not say how it went")
    run.expect(run.process.wait(DEADLINE_S) == 0, f"it ended with status {run.process.returncode}, not 0")
    os.close(reading)
    print(f"log read late: {count.group(1).decode() if count else 'no'} lines left out, and then it goes on")
    return run


def reader_gone(program):
    """Whoever read its words has gone: a write to them fails, and would end it by SIGPIPE."""
    run, reading = on_pipe(program)
    os.close(reading)
    for line in ("cut west", "restore west"):
        run.expect(visitors.tell(run.control, line, DEADLINE_S) == f"ok {line}", f"{line} was not done")
    run.ask()
    run.end(status=3)
    gone(run)
    print("reader gone: answers on, and ends by SIGTERM")
    return run


def clock_jumps(program):
    library = glob.glob("/usr/lib/*/faketime/libfaketimeMT.so.1")
    if not library:
        print("clock jumps: left out, libfaketime is not installed")
        return None
    stamp = os.path.join("/tmp", f"emberline-clock-{os.getpid()}")

    def set_clock(days):
        with open(stamp + ".new", "w", encoding="utf-8") as file:
            file.write(f"{days:+d}d\n")
        os.rename(stamp + ".new", stamp)

    set_clock(0)
    # Only the clock that people set; a monotonic one cannot be set by anybody (POSIX, clock_settime).
    run = Knocked(program, environment={"LD_PRELOAD": library[0], "FAKETIME_TIMESTAMP_FILE": stamp, "FAKETIME_NO_CACHE": "1",
                                        "FAKETIME_DONT_FAKE_MONOTONIC": "1", "DONT_FAKE_MONOTONIC": "1"})
    try:
        begun = time.monotonic()
        state = run.ask()[0]
        for days in (1, -1, 400, 0):
            set_clock(days)
            for _ in range(10):
                since = run.now()
                seen = run.ask()
                run.in_time(f"a request {days} days off", since)
                run.expect(seen[0] == state, f"the state has changed from {state} to {seen[0]} with the clock {days} days off")
                run.expect(seen[10] < 50, f"its last request is {seen[10] / 10} s ago, says the unit, {days} days off")
                time.sleep(0.02)
        took_s = time.monotonic() - begun
        words = run.end()
        seconds = re.search(r"Stopped after ([0-9.]+) s", words)
        run.expect(seconds and float(seconds.group(1)) < took_s + 30, "it counts the jump as time that went by: " + words[-300:])
    finally:
        os.unlink(stamp)
    print("clock jumps: by days to and fro, unseen")
    return run


def main():
    program = os.path.abspath(sys.argv[1])
    failed = 0
    for knock in (disk_full, disk_bounded, stopped, nobody_reads, log_unread, log_read_late, reader_gone, clock_jumps):
        run = knock(program)
        if run is None:
            continue
        failed += len(run.failures)
        run.kill()
        run.remove()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
