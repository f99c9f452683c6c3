"""Masters for the long run: polite ones by libmodbus, and rude ones that write what no library would."""
import ctypes
import fcntl
import os
import random
import select
import socket
import struct
import termios
import time

MODBUS = ctypes.CDLL("libmodbus.so.5", use_errno=True)
MODBUS.modbus_new_tcp.restype = ctypes.c_void_p
MODBUS.modbus_new_tcp.argtypes = [ctypes.c_char_p, ctypes.c_int]
MODBUS.modbus_new_rtu.restype = ctypes.c_void_p
MODBUS.modbus_new_rtu.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.c_char, ctypes.c_int, ctypes.c_int]
for name in ("connect", "close", "free", "flush"):
    getattr(MODBUS, "modbus_" + name).argtypes = [ctypes.c_void_p]
MODBUS.modbus_set_slave.argtypes = [ctypes.c_void_p, ctypes.c_int]
MODBUS.modbus_set_response_timeout.argtypes = [ctypes.c_void_p, ctypes.c_uint32, ctypes.c_uint32]
for name in ("read_registers", "read_input_registers", "write_registers"):
    getattr(MODBUS, "modbus_" + name).argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_int,
                                                  ctypes.POINTER(ctypes.c_uint16)]
for name in ("read_bits", "read_input_bits"):
    getattr(MODBUS, "modbus_" + name).argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_int,
                                                  ctypes.POINTER(ctypes.c_uint8)]
MODBUS.modbus_write_register.argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_uint16]
MODBUS.modbus_write_bit.argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_int]
MODBUS.modbus_report_slave_id.argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.POINTER(ctypes.c_uint8)]

# Unit ids by line, those nobody has among them.
UNITS = {"plant": [11, 12, 13, 20, 99], "gateway": [12, 14, 16, 20, 98], "east": [11, 12, 15, 0, 97],
         "west": [13, 14, 15, 96]}
SETPOINT = {11: 0x0000, 12: 0x0030, 13: 0x0000, 14: 0, 15: 0x0101, 16: 0x0030}


class Polite:
    """A connection by libmodbus; `place` is ("tcp", port) or ("pty", path, baud, parity, stop bits)."""

    def __init__(self, place, timeout_s=1.0):
        if place[0] == "tcp":
            self.context = MODBUS.modbus_new_tcp(b"127.0.0.1", place[1])
        else:
            self.context = MODBUS.modbus_new_rtu(place[1].encode(), place[2], place[3].encode(), 8, place[4])
        assert self.context
        MODBUS.modbus_set_response_timeout(self.context, int(timeout_s), int(timeout_s % 1 * 1e6))
        self.words = (ctypes.c_uint16 * 130)()
        self.bits = (ctypes.c_uint8 * 2010)()
        self.connected = MODBUS.modbus_connect(self.context) == 0

    def close(self):
        if self.connected:
            MODBUS.modbus_close(self.context)
        MODBUS.modbus_free(self.context)

    def read_input(self, unit, first, count):
        MODBUS.modbus_set_slave(self.context, unit)
        return MODBUS.modbus_read_input_registers(self.context, first, count, self.words)

    def any_request(self, rng, line):
        """True if it was answered, by an exception too."""
        unit = rng.choice(UNITS[line])
        MODBUS.modbus_set_slave(self.context, unit)
        ctypes.set_errno(0)
        kind = rng.randrange(10)
        if kind < 4:
            done = MODBUS.modbus_read_registers(self.context, rng.choice([0, 0x30, 0x40, 0x100, rng.randrange(65000)]),
                                                rng.randint(1, 20), self.words)
        elif kind < 6:
            done = self.read_input(unit, rng.choice([0x100, 0x110, 0, rng.randrange(65000)]), rng.randint(1, 16))
        elif kind < 8:
            done = MODBUS.modbus_write_register(self.context, SETPOINT.get(unit, 3), rng.randrange(1000))
        elif kind == 8:
            done = MODBUS.modbus_write_bit(self.context, rng.choice([0, 1, 8, 16]), rng.random() < 0.9)
        else:
            done = rng.choice([lambda: MODBUS.modbus_read_bits(self.context, 0, 9, self.bits),
                               lambda: MODBUS.modbus_read_input_bits(self.context, 0, 8, self.bits),
                               lambda: MODBUS.modbus_report_slave_id(self.context, 200, self.bits)])()
        # libmodbus: exceptions are errno 112345678 + code, 1 to 11 (MODBUS_ENOBASE in modbus.h)
        return done >= 0 or 112345678 < ctypes.get_errno() < 112345690


def crc(data):
    """CRC-16 of MODBUS over Serial Line V1.02, appendix B."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return struct.pack("<H", value)


def pdu(rng):
    function = rng.choice([3, 4, 6, 16, 1, 2, 5, 8, 0x2B, rng.randrange(256)])
    if function in (1, 2, 3, 4):
        return struct.pack(">BHH", function, rng.choice([0, 0x30, 0x100, rng.randrange(65536)]), rng.randint(1, 12))
    if function == 16:
        return struct.pack(">BHHBHH", 16, rng.choice([0, 0x30, 0x10]), 2, 4, rng.randrange(1000), rng.randrange(2))
    if function == 0x2B:
        return struct.pack(">BBBB", 0x2B, 0x0E, rng.randint(1, 4), rng.randrange(8))
    return struct.pack(">BHH", function, rng.choice([0, 0x30, 1, 4]), rng.randrange(1000))


def frame(rng, line):
    """A good request as it stands on this kind of line."""
    unit, body = rng.choice(UNITS[line]), pdu(rng)
    if line == "plant":
        return struct.pack(">HHHB", rng.randrange(65536), 0, len(body) + 1, unit) + body
    rtu = bytes([unit]) + body
    return rtu + crc(rtu)


def polite_visit(place, line, rng, stop, count):
    """One master that comes, asks for a while and goes, or stays and asks slowly."""
    master = Polite(place, rng.choice([0.1, 0.3, 1.0]))
    count["connections"] += 1
    try:
        if not master.connected:
            count["refused"] += 1
            stop.wait(0.1)
            return
        pause_s = rng.choice([0, 0.002, 0.01, 0.1])
        for _ in range(rng.choice([1, 10, 100, 300])):
            if stop.is_set():
                return
            answered = master.any_request(rng, line)
            count["asked"] += 1
            count["answered" if answered else "unanswered"] += 1
            if not answered and rng.random() < 0.3:
                return
            stop.wait(pause_s)
    finally:
        master.close()


def reset(connection):
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    connection.close()


def rude_visit(port, line, rng, stop, count):
    """One master of bad manners on a TCP line."""
    count["connections"] += 1
    manner = rng.choice(["reset", "half", "garbage", "pipeline", "flood", "drops", "idle", "crowd", "orderly"])
    count["rude: " + manner] += 1
    if manner == "crowd":
        crowd = []
        for _ in range(30):
            try:
                crowd.append(socket.create_connection(("127.0.0.1", port), 2))
                count["connections"] += 1
                crowd[-1].sendall(frame(rng, line))
            except OSError:
                pass
        stop.wait(rng.random())
        for connection in crowd:
            (reset if rng.random() < 0.5 else socket.socket.close)(connection)
        return
    try:
        connection = socket.create_connection(("127.0.0.1", port), 2)
    except OSError:
        count["refused"] += 1
        stop.wait(0.1)
        return
    try:
        connection.settimeout(0.5)
        if manner == "reset":
            connection.sendall(frame(rng, line))
        elif manner == "half":
            whole = frame(rng, line)
            connection.sendall(whole[:rng.randrange(1, len(whole))])
            stop.wait(rng.random() * 2)
        elif manner == "garbage":
            connection.sendall(rng.randbytes(rng.choice([1, 7, 300, 5000])))
            connection.recv(4096)
        elif manner == "pipeline":
            connection.sendall(b"".join(frame(rng, line) for _ in range(rng.randint(2, 60))))
            while connection.recv(4096) and not stop.is_set():
                pass
        elif manner == "flood":  # and never reads
            connection.setblocking(False)
            many = b"".join(frame(rng, line) for _ in range(200))
            until = time.monotonic() + 2
            while time.monotonic() < until and not stop.is_set():
                try:
                    connection.send(many)
                except BlockingIOError:
                    stop.wait(0.05)
        elif manner == "drops":
            for byte in b"".join(frame(rng, line) for _ in range(3)):
                connection.sendall(bytes([byte]))
                stop.wait(0.005)
            connection.recv(4096)
        elif manner == "idle":
            stop.wait(rng.random() * 5)
        else:
            for _ in range(50):
                connection.sendall(frame(rng, line))
                connection.recv(512)
    except OSError:
        pass
    finally:
        (reset if manner == "reset" or rng.random() < 0.3 else socket.socket.close)(connection)


def rude_terminal_visit(path, line, rng, stop, count):
    """One master of bad manners on a pseudo-terminal."""
    count["connections"] += 1
    manner = rng.choice(["half", "garbage", "unread", "gone", "other speed", "exclusive", "asks"])
    count["rude: " + manner] += 1
    try:
        terminal = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    except OSError:  # another has it for himself
        stop.wait(0.05)
        return
    try:
        if manner == "other speed":
            settings = termios.tcgetattr(terminal)
            settings[4] = settings[5] = termios.B4800
            termios.tcsetattr(terminal, termios.TCSANOW, settings)
        if manner == "exclusive":
            fcntl.ioctl(terminal, termios.TIOCEXCL)
        if manner == "half":
            whole = frame(rng, line)
            os.write(terminal, whole[:rng.randrange(1, len(whole))])
        elif manner == "garbage":
            os.write(terminal, rng.randbytes(rng.choice([1, 9, 300, 2000])))
        else:
            for _ in range(400 if manner == "unread" else 20):
                if stop.is_set():
                    break
                os.write(terminal, frame(rng, line))
                if manner == "asks" and select.select([terminal], [], [], 0.2)[0]:
                    os.read(terminal, 4096)
                if manner == "unread":
                    stop.wait(0.001)
        if manner != "gone":
            stop.wait(rng.random() * 0.5)
    except OSError:
        pass
    finally:
        os.close(terminal)
