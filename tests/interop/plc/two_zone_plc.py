#!/usr/bin/python3
"""A small PLC program by pymodbus: it holds two zones of an oven at temperature, in a scan that repeats.

usage: two_zone_plc.py PTY [--fault old-setpoint]

It tries its scaling with a small setpoint, then controls both zones (PI), reads trips and states, notices when nobody
answers and waits for the operator's reset after that. With --fault old-setpoint it writes, when comms are back, the
setpoint from before they were lost instead of zero. It ends when the line is gone, and says then how long it got no
processor at the worst: a PLC has its own, a test has not.

Exit 0: the line is gone. 1: the program gave up, told in one line. 3: pymodbus is not installed.
"""
import logging
import os
import sys
import threading
import time

try:
    from pymodbus.client import ModbusSerialClient
    from pymodbus.exceptions import ModbusException
except ImportError as missing:
    print(f"pymodbus cannot be used ({missing}): install the packages python3-pymodbus and python3-serial-asyncio")
    sys.exit(3)

SCAN_S, PATIENCE_S, LONGEST_S = 0.2, 1, 120
FAILURES_UNTIL_LOST = 3
IO_BLOCK, MAIN_COIL = 20, 2
SETPOINT, STATE, POWER, TRIPS = 0x0030, 0x0041, 0x0047, 0x0051  # of the register table "Short blocks"
RUNNING, INHIBITED = 3, 6
NO_VALUE = 0x7FFF  # what a broken sensor reads
TARGET_DEGC, GAIN_PER_K, INTEGRAL_S, MOST_PERCENT = 180.0, 5.0, 60.0, 60.0
TRIAL_PERCENT, TRIAL_W, TRIAL_NEAR_W = 5.0, 600, 60


class NoAnswer(Exception):
    """A request that nobody answered."""


class Starved:
    """How long this process got no processor at the worst: by a thread that asks for it over and over, and by what the
    program itself took too long for. What answers take does not count, whoever is late with them."""

    TICK_S = 0.02

    def __init__(self):
        self.longest_s = 0.0
        threading.Thread(target=self._ticks, daemon=True).start()

    def _ticks(self):
        while True:
            self.sleep(self.TICK_S)

    def sleep(self, seconds):
        before = time.monotonic()
        time.sleep(seconds)
        self.longest_s = max(self.longest_s, time.monotonic() - before - seconds)


class Line:
    """The bus: requests one after the other, each answered, refused or given up after a second."""

    def __init__(self, path):
        self.path = path
        # Parity N: a pseudo-terminal has none. Not strict: a busy machine may pause within a frame.
        self.client = ModbusSerialClient(path, baudrate=19200, bytesize=8, parity="N", stopbits=2,
                                         timeout=PATIENCE_S, strict=False)

    def ask(self, call, *arguments, unit):
        try:
            answer = getattr(self.client, call)(*arguments, slave=unit)
        except (ModbusException, OSError) as error:
            raise NoAnswer(str(error)) from None
        if not answer.isError():
            return answer
        if not hasattr(answer, "exception_code"):
            raise NoAnswer(str(answer))
        print(f"{call}{arguments} of unit {unit}: refused with exception {answer.exception_code:02}")
        sys.exit(1)

    def gone(self):
        return not os.path.exists(self.path)


class Zone:
    def __init__(self, name, unit):
        self.name, self.unit = name, unit
        self.integral = self.setpoint = 0.0
        self.trial_done = False
        self.alarm = None

    def write(self, line, percent):
        line.ask("write_register", SETPOINT, round(10 * percent), unit=self.unit)
        self.setpoint = percent

    def look(self, line):
        """State, power in W and trips."""
        values = line.ask("read_holding_registers", STATE, 7, unit=self.unit).registers
        trips = line.ask("read_holding_registers", TRIPS, 1, unit=self.unit).registers[0]
        return values[0], 10 * values[POWER - STATE], trips

    def raise_alarm(self, what):
        if self.alarm != what:
            print(f"alarm: {self.name}: {what}")
        self.alarm = what

    def control(self, carried, passed_s):
        """The PI loop; what is beyond its limits is not integrated."""
        error_K = TARGET_DEGC - 0.1 * carried
        wanted = GAIN_PER_K * error_K + self.integral
        if 0.0 < wanted < MOST_PERCENT:
            self.integral += GAIN_PER_K * error_K * passed_s / INTEGRAL_S
        return min(max(wanted, 0.0), MOST_PERCENT)


class Program:
    def __init__(self, line, fault):
        self.line, self.fault = line, fault
        self.zones = [Zone("front", 1), Zone("rear", 2)]
        self.failures = 0
        self.lost = self.waits_for_reset = False
        self.before = time.monotonic()
        self.starved = Starved()

    def start(self):
        for coil in range(MAIN_COIL + 1):
            self.line.ask("write_coil", coil, True, unit=IO_BLOCK)
        for zone in self.zones:
            zone.write(self.line, TRIAL_PERCENT)

    def comms_back(self):
        """The first answer after a loss: nothing may heat until the operator has seen to it."""
        self.lost, self.waits_for_reset = False, True
        for zone in self.zones:
            zone.integral = 0.0
            zone.write(self.line, zone.setpoint if self.fault == "old-setpoint" else 0.0)

    def scan(self):
        now = time.monotonic()
        passed_s, self.before = now - self.before, now
        carried = self.line.ask("read_input_registers", 0, 2, unit=IO_BLOCK).registers
        seen = [zone.look(self.line) for zone in self.zones]
        # The unit may have missed us before we missed it.
        if self.lost or (not self.waits_for_reset and any(state == INHIBITED for state, _, _ in seen)):
            self.comms_back()
        if self.waits_for_reset:
            if any(state != RUNNING or trips for state, _, trips in seen):
                return
            self.waits_for_reset = False
        for zone, value, (state, power_W, trips) in zip(self.zones, carried, seen):
            if value == NO_VALUE:
                zone.raise_alarm("no temperature")
            elif trips or state != RUNNING:
                zone.raise_alarm(f"state {state}, trips {trips:#06x}")
            else:
                zone.alarm = None
            if zone.alarm:
                zone.write(self.line, 0.0)
            elif not zone.trial_done:
                zone.trial_done = abs(power_W - TRIAL_W) <= TRIAL_NEAR_W
            else:
                zone.write(self.line, zone.control(value, passed_s))

    def run(self):
        started, begun = time.monotonic(), False
        while time.monotonic() - started < LONGEST_S:
            try:
                if not begun:
                    self.start()
                    begun = True
                self.scan()
                self.failures = 0
            except NoAnswer:
                if self.line.gone():
                    print(f"without a processor for {self.starved.longest_s:.2f} s")
                    return
                self.failures += 1
                if self.failures == FAILURES_UNTIL_LOST:
                    print("alarm: nobody answers")
                    self.lost = True
            self.starved.sleep(SCAN_S)
        print(f"the line is still there after {LONGEST_S} s")
        sys.exit(1)


def main():
    logging.disable(logging.CRITICAL)  # the library's own words on lost answers
    fault = sys.argv[3] if sys.argv[2:3] == ["--fault"] else None
    if fault not in (None, "old-setpoint"):
        print(f"--fault: expected old-setpoint, found {fault}")
        sys.exit(1)
    Program(Line(sys.argv[1]), fault).run()


if __name__ == "__main__":
    main()
