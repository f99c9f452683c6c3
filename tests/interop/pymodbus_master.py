#!/usr/bin/python3
"""A master by pymodbus: writes and reads one unit over and over, and says what does not agree.

usage: pymodbus_master.py pty PATH|tcp HOST:PORT|rtu-tcp HOST:PORT UNIT ROUNDS

Exit 0: everything agreed. 1: something did not, told in one line. 3: pymodbus is not installed.
The addresses are those of the register table "Short blocks"; id 20 is an io-block whose coil UNIT is the unit's
enable terminal.
"""
import sys

try:
    from pymodbus.client import ModbusSerialClient, ModbusTcpClient
    from pymodbus.transaction import ModbusRtuFramer
except ImportError as missing:
    print(f"pymodbus cannot be used ({missing}): install the packages python3-pymodbus and python3-serial-asyncio")
    sys.exit(3)

PATIENCE_S = 60
SETPOINT, SETPOINT_SOURCE, STATE, UNMAPPED = 0x0030, 0x0031, 0x0041, 0x0200
IO_BLOCK = 20


def expect(what, found, wanted):
    if found != wanted:
        print(f"{what}: found {found}, expected {wanted}")
        sys.exit(1)


def good(what, answer):
    if answer.isError():
        print(f"{what}: {answer}")
        sys.exit(1)
    return answer


def refused(what, answer, code):
    if not answer.isError() or not hasattr(answer, "exception_code"):
        print(f"{what}: expected exception {code:02}, found {answer}")
        sys.exit(1)
    expect(what, answer.exception_code, code)


def open_client(kind, where):
    if kind == "pty":
        # Parity N: a pseudo-terminal has none, and the C library reports settings that did not take as an error when
        # nothing else changes with them (termios.error 22 in pyserial).
        return ModbusSerialClient(where, baudrate=19200, bytesize=8, parity="N", stopbits=1, timeout=PATIENCE_S)
    host, port = where.rsplit(":", 1)
    if kind == "rtu-tcp":
        return ModbusTcpClient(host, port=int(port), framer=ModbusRtuFramer, timeout=PATIENCE_S)
    return ModbusTcpClient(host, port=int(port), timeout=PATIENCE_S)


def one_round(client, unit, number):
    """Every function code a master uses, and the refusals it may meet."""
    first, second = 100 * unit + number, 300 + 100 * unit + number
    good("write one register", client.write_register(SETPOINT, first, slave=unit))
    expect("holding", good("read holding", client.read_holding_registers(SETPOINT, 6, slave=unit)).registers[0], first)
    expect("input", good("read input", client.read_input_registers(SETPOINT, 1, slave=unit)).registers, [first])
    good("write registers", client.write_registers(SETPOINT, [second, 0], slave=unit))
    expect("after", good("read holding", client.read_holding_registers(SETPOINT, 2, slave=unit)).registers, [second, 0])
    refused("unmapped address", client.read_holding_registers(UNMAPPED, 1, slave=unit), 2)
    refused("read-only address", client.write_register(STATE, 1, slave=unit), 2)
    refused("value out of range", client.write_register(SETPOINT, 1001, slave=unit), 3)
    for closed in (False, True):
        good("write coil", client.write_coil(unit, closed, slave=IO_BLOCK))
        expect("coil", good("read coils", client.read_coils(unit, 1, slave=IO_BLOCK)).bits[0], closed)
        good("write coils", client.write_coils(unit, [closed], slave=IO_BLOCK))
        inputs = good("read inputs", client.read_discrete_inputs(unit, 1, slave=IO_BLOCK))
        expect("discrete input", inputs.bits[0], closed)
    return 16


def main():
    kind, where, unit, rounds = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    client, transactions = None, 0
    for number in range(rounds):
        # On the pty the master goes and comes again; on TCP it stays.
        if client is None or kind == "pty":
            client = open_client(kind, where)
            if not client.connect():
                print(f"cannot open {where}")
                sys.exit(1)
        transactions += one_round(client, unit, number)
        if kind == "pty":
            client.close()
    client.close()
    print(f"{transactions} transactions agreed")


if __name__ == "__main__":
    main()
