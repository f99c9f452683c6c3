// A master by modbus-serial: writes and reads one unit over and over, and says what does not agree.
//
// usage: node modbus_serial_master.js pty PATH|tcp HOST:PORT|rtu-tcp HOST:PORT UNIT ROUNDS
//
// Exit 0: everything agreed. 1: something did not, told in one line. 3: modbus-serial is not installed.
// NODE_PATH says where modbus-serial is. The addresses are those of the register table "Short blocks"; the unit with
// id UNIT + 100 has the table "Float pairs"; id 20 is an io-block whose coil UNIT is the unit's enable terminal.
'use strict';

let ModbusRTU;
try {
  ModbusRTU = require('modbus-serial');
} catch (missing) {
  console.log(`modbus-serial cannot be used (${missing.code}): tests/setup.sh installs it`);
  process.exit(3);
}

const PATIENCE_MS = 60000;
const SETPOINT = 0x0030, STATE = 0x0041, ENERGY = 0x0058, UNMAPPED = 0x0200;
const FLOAT_SETPOINT = 2500; // 42501
const IO_BLOCK = 20;

function expect(what, found, wanted) {
  if (JSON.stringify(found) !== JSON.stringify(wanted)) {
    throw new Error(`${what}: found ${JSON.stringify(found)}, expected ${JSON.stringify(wanted)}`);
  }
}

async function refused(what, code, request) {
  let answer;
  try {
    answer = await request;
  } catch (refusal) {
    return expect(what, refusal.modbusCode, code);
  }
  throw new Error(`${what}: expected exception ${code}, found ${JSON.stringify(answer)}`);
}

/// A 32-bit float as two registers, the low word first (table "Float pairs").
function floatPair(value) {
  const bytes = Buffer.alloc(4);
  bytes.writeFloatBE(value);
  return [bytes.readUInt16BE(2), bytes.readUInt16BE(0)];
}

function floatOf([low, high]) {
  const bytes = Buffer.alloc(4);
  bytes.writeUInt16BE(high, 0);
  bytes.writeUInt16BE(low, 2);
  return bytes.readFloatBE();
}

async function open(kind, where) {
  const client = new ModbusRTU();
  if (kind === 'pty') {
    await client.connectRTUBuffered(where, {baudRate: 19200, dataBits: 8, parity: 'none', stopBits: 1});
  } else {
    const colon = where.lastIndexOf(':');
    const host = where.slice(0, colon), options = {port: Number(where.slice(colon + 1))};
    await (kind === 'tcp' ? client.connectTCP(host, options) : client.connectTcpRTUBuffered(host, options));
  }
  client.setTimeout(PATIENCE_MS);
  return client;
}

/// Every function code a master uses, and the refusals it may meet.
async function oneRound(client, unit, number) {
  const first = 100 * unit + number, second = 300 + 100 * unit + number;
  client.setID(unit);
  await client.writeRegister(SETPOINT, first);
  expect('holding', (await client.readHoldingRegisters(SETPOINT, 6)).data[0], first);
  expect('input', (await client.readInputRegisters(SETPOINT, 1)).data, [first]);
  await client.writeRegisters(SETPOINT, [second, 0]);
  expect('after', (await client.readHoldingRegisters(SETPOINT, 2)).data, [second, 0]);
  expect('energy', (await client.readHoldingRegisters(ENERGY, 2)).buffer.readUInt32BE(), 0);
  await refused('unmapped address', 2, client.readHoldingRegisters(UNMAPPED, 1));
  await refused('read-only address', 2, client.writeRegister(STATE, 1));
  await refused('value out of range', 3, client.writeRegister(SETPOINT, 1001));

  client.setID(unit + 100);
  const percent = Math.fround(number + 0.1);
  await client.writeRegisters(FLOAT_SETPOINT, floatPair(percent));
  expect('float', floatOf((await client.readHoldingRegisters(FLOAT_SETPOINT, 2)).data), percent);

  client.setID(IO_BLOCK);
  for (const closed of [false, true]) {
    await client.writeCoil(unit, closed);
    expect('coil', (await client.readCoils(unit, 1)).data[0], closed);
    await client.writeCoils(unit, [closed]);
    expect('discrete input', (await client.readDiscreteInputs(unit, 1)).data[0], closed);
  }
  return 19;
}

async function main() {
  const [kind, where, unit, rounds] = process.argv.slice(2);
  let client = null, transactions = 0;
  for (let number = 0; number < Number(rounds); ++number) {
    // On the pty the master goes and comes again; on TCP it stays.
    if (client === null || kind === 'pty') client = await open(kind, where);
    transactions += await oneRound(client, Number(unit), number);
    if (kind === 'pty') await new Promise((closed) => client.close(closed));
  }
  if (kind !== 'pty') await new Promise((closed) => client.close(closed));
  console.log(`${transactions} transactions agreed`);
}

main().then(() => process.exit(0), (wrong) => {
  console.log(wrong.message);
  process.exit(1);
});
