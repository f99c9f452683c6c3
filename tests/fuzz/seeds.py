#!/usr/bin/env python3
"""Writes the inputs that the kept corpora began with: seeds.py FOLDER makes FOLDER/NAME/* for every fuzzer.

Frames are the examples of MODBUS Application Protocol V1.1b3 (section 6) and Messaging on TCP/IP V1.0b (3.1.3); files
are those that ship, cut to what differs between them where they are long.
"""
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
PDUS = [bytes.fromhex(text) for text in (
    "0100130013", "0200C40016", "03006B0003", "0400080001", "0500ACFF00", "0600010003", "07", "080000A537", "0B", "0C",
    "0F0013000A02CD01", "100001000204000A0102", "11", "16000400F20025", "170003000600 0E00030600FF00FF00FF",
    "2B0E0100", "2B0E0400", "2B0D00", "0104A10001", "030064007D", "10006300020400010002", "0F0000000A01CD", "170000000100000002020001",
    "08000A0001", "0800010000", "08000100FF00", "0800040000", "08000B0000", "08000C0000", "0800020000", "55", "")]


def crc(frame):
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ 0xA001 if value & 1 else value >> 1
    return frame + value.to_bytes(2, "little")


def rtu():
    frames = [crc(b"\x01" + pdu) for pdu in PDUS]
    for strict in (0, 1):
        for frame in frames:
            yield bytes([strict, 0, len(frame)]) + frame
            yield bytes([strict, 0, len(frame)]) + frame + bytes([40, len(frame)]) + frame  # after a silence
        half = len(frames[2]) // 2
        for gap in (10, 20, 40):  # inside t1.5, between t1.5 and t3.5, beyond
            yield bytes([strict, 0, half]) + frames[2][:half] + bytes([gap, len(frames[2]) - half]) + frames[2][half:]
        yield bytes([strict, 0, 16]) + frames[2] + frames[4]
        yield bytes([strict, 0, 8]) + b"\x01\x03\x00\x6B\x00\x03\x74\x18" + bytes([0, 8]) + frames[2]
        yield bytes([strict, 0, 200]) + bytes(200) + bytes([0, 100]) + bytes(100) + bytes([40, 8]) + frames[2]


def mbap():
    adus = [b"\x15\x01\x00\x00" + (len(pdu) + 1).to_bytes(2, "big") + b"\xFF" + pdu for pdu in PDUS]
    for adu in adus:
        yield b"\x07" + adu
    yield b"\x05" + b"".join(adus[:16])
    yield b"\x01" + adus[2] + b"\x00\x01\x00\x07\x00\x03abc" + adus[3]
    yield b"\x02" + adus[2] + b"\x00\x01\x00\x00\x01\x00\x01"


def pdus():
    for pdu in PDUS:
        yield bytes([len(pdu)]) + pdu
    yield b"".join(bytes([len(pdu)]) + pdu for pdu in PDUS)


def unit():
    def ask(pdu, kind=0):
        return bytes([kind, len(pdu)]) + pdu
    write, read = bytes.fromhex("0600000190"), bytes.fromhex("0300000008")
    for pdu in PDUS:
        yield ask(pdu) + ask(pdu, 1) + ask(pdu, 2)
    for address in range(14):
        yield ask(bytes([6, 0, address, 0, 1])) + ask(bytes([3, 0, address, 0, 2]))
    yield ask(bytes.fromhex("100001000204000042C8")) + ask(read)
    yield ask(write) + b"\x04\xFF" + ask(read) + b"\x05\x02\x05\x03" + ask(write)  # comms lost, and the latch reset
    yield ask(write) + b"\x06\x00\x04\x10\x06\x01\x04\x30" + ask(read) + b"\x07\x01"
    yield ask(bytes.fromhex("050005FF00")) + ask(bytes.fromhex("0100050001")) + ask(bytes.fromhex("0200020001"))


def words():
    for line in ("cut field", "delay field by 200 ms for 10 s", "bit_errors plc rate 0.001", "restore field only cut", "open cure-oven", "ping",
                 "traffic", "panel", "mend cure-oven", "supply_dip supply.l1 to 70 % for 1 s", "short zone-1.l1.forward"):
        yield b"a" + line.encode()
        yield b"t" + line.encode() + b"\nping\n"
    yield b"t" + b"x" * 4097 + b"\nping\r\n\n\ttraffic \ncut"
    for number, text in enumerate(("12", "on", "50 %", "400 V", "1.2 kA", "3 MW", "5 VA", "12 mohm", "3 mH", "540 degC", "4 K", "10 min",
                                   "50 Hz", "90 deg", "1 kWh", "180 kg", "4186 J/kgK", "5 kJ/K", "2.6 W/K", "0.1 K/W", "0.2 W/mK",
                                   "12 W/m2K", "30 mm", "2 m2", "2400 kg/m3", "5 kA2s", "60 K/h", "4 %/K")):
        yield b"q" + bytes([number]) + text.encode()
    for text in ("19200 8E1", "9600 8N2", "115200 8O1", "19200 7E1", "9600"):
        yield b"s" + text.encode()


def panel():
    for path in ("bench", "state", "journal?after=0&limit=5", "traffic?after=1&limit=2", "review", "waves/water-heater", "trend?signals=tank.measured",
                 "trend?signal=tank.measured&from=0&to=1", "trend.csv", "capture.pcapng", "lesson", "openapi.json", "%C3%BCber?a=%2B+b", "../x", "state?view=class"):
        yield b"G/api/" + path.encode() + b"\ng/api/" + path.encode()
    yield b"G/metrics\ng/metrics"
    for body in ('{"do":"cut field for 1 s"}', '{"on":true}', '{"on":false}', '{"go":"predict","answer":2}', '{"token":"trainer-word"}', "[1", "{}"):
        for path in ("actions", "blind", "lesson"):
            yield b"P/api/" + path.encode() + b" " + body.encode() + b"\nG/api/journal\np/api/" + path.encode() + b" " + body.encode()
        yield b"L" + body.encode()
    for text in ('{"rate":10,"state":true,"journal_after":0,"traffic":true}', '{"signals":["tank.measured","water-heater.output"],"rate":0.2}',
                 '{"lesson":true,"state":false,"journal_after":null}', '{"rate":"fast"}'):
        yield b"W" + text.encode() + b"\nP/api/actions {\"do\":\"cut field\"}\nw" + text.encode() + b"\n-------"
    for fields in ("GET|/api/state|127.0.0.1:8710|http://127.0.0.1:8710|same-origin||emberline_8710=0123|",
                   "POST|/api/session|[::1]:8710|||application/json; charset=utf-8|a=b; emberline_8710=x|Bearer trainer-word|{\"token\":\"class-word\"}",
                   "POST|/api/actions|192.0.2.7|null|cross-site|text/plain||bearer  no|{", "PUT|/|oven.example:x|||||"):
        yield b"V" + fields.encode()


def shipped(pattern):
    for path in sorted(ROOT.glob(pattern)):
        yield path.read_bytes()


def main():
    folder = pathlib.Path(sys.argv[1])
    corpora = {"rtu_framer": rtu(), "mbap_framer": mbap(), "pdu": pdus(), "unit": unit(),
               "yaml_register_table": shipped("config/registers/*.yaml"), "yaml_bench": shipped("config/benches/*.yaml"),
               "yaml_scenario": shipped("scenarios/**/*.yaml"), "yaml_poll_plan": shipped("config/polls/*.yaml"),
               "csv_table": (text + b"\0Name,Address\n" for text in shipped("config/mappings/*.yaml")),
               "json_state": shipped("scenarios/**/*.json"), "json_verdicts": shipped("tests/sim/io/report/verdicts.json"),
               "words": words(), "panel": panel()}
    for name, inputs in corpora.items():
        (folder / name).mkdir(parents=True, exist_ok=True)
        for number, content in enumerate(inputs):
            (folder / name / f"seed-{number:02}").write_bytes(content)


if __name__ == "__main__":
    main()
