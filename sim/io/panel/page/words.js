/// Quantities and states in words. A missing value is a dash; decimals are fixed so that figures do not dance.
import {svg} from '/dom.js';

const NONE = '–';
const has = (value) => typeof value === 'number' && Number.isFinite(value);
const signed = (text) => (/^-0(\.0+)?$/.test(text) ? text.slice(1) : text).replace('-', '\u2212');
const fixed = (value, decimals) => signed(value.toFixed(decimals));
const SPACE = '\u00a0';

export function percent(share) {
  if (!has(share)) return NONE;
  const value = share * 100;
  return `${fixed(value, value !== 0 && Math.abs(value) < 9.95 ? 1 : 0)}${SPACE}%`;
}
export function watts(value) {
  if (!has(value)) return NONE;
  if (Math.abs(value) >= 999.5) return `${fixed(value / 1000, Math.abs(value) >= 99950 ? 0 : 1)}${SPACE}kW`;
  return `${fixed(value, Math.abs(value) < 9.95 && Math.abs(value) >= 0.05 ? 1 : 0)}${SPACE}W`;
}
export function amps(value) {
  if (!has(value)) return NONE;
  if (value !== 0 && Math.abs(value) < 0.1) return `${fixed(value * 1000, Math.abs(value) < 0.00995 ? 1 : 0)}${SPACE}mA`;
  return `${fixed(value, 1)}${SPACE}A`;
}
export const volts = (value) => (has(value) ? `${fixed(value, Math.abs(value) < 10 && value !== 0 ? 1 : 0)}${SPACE}V` : NONE);
export const degC = (value) => (has(value) ? `${fixed(value, Math.abs(value) < 100 ? 1 : 0)}${SPACE}°C` : NONE);
export const ohms = (value) => (has(value) ? `${fixed(value, value < 100 ? 2 : 0)}${SPACE}Ω` : NONE);
export const degrees = (value) => (has(value) ? `${fixed(value, 0)}°` : NONE);
export function energy(value) {
  if (!has(value)) return NONE;
  const kWh = value / 3.6e6;
  return `${fixed(kWh, kWh < 10 ? 2 : 0)}${SPACE}kWh`;
}
export function seconds(value) {
  if (!has(value)) return NONE;
  if (value < 9.95) return `${fixed(value, 1)}${SPACE}s`;
  if (value < 120) return `${fixed(value, 0)}${SPACE}s`;
  if (value < 7200) return `${fixed(value / 60, 0)}${SPACE}min`;
  return `${fixed(value / 3600, 1)}${SPACE}h`;
}
/// A time of the bench: 0:01:23, with tenths where asked for.
export function clock(at, tenths = false) {
  if (!has(at)) return '-:--:--';
  const whole = Math.floor(at + 1e-9), two = (n) => String(n).padStart(2, '0');
  const text = `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
  return tenths ? `${text}.${Math.floor((at - whole) * 10 + 1e-6)}` : text;
}
export function often(per_second) {
  if (!has(per_second) || per_second <= 0) return 'not now';
  if (per_second >= 0.95) return `${fixed(per_second, per_second < 9.95 ? 1 : 0)} times a second`;
  return `every ${seconds(1 / per_second)}`;
}
/// A value of a signal, by its unit.
export function quantity(value, unit, words, bits) {
  if (!has(value)) return NONE;
  if (words && words[String(value)] !== undefined) return words[String(value)];
  if (bits) return list(Object.keys(bits).filter((bit) => Math.floor(value / 2 ** Number(bit)) % 2 === 1).map((bit) => trouble(bits[bit]))) || 'none';
  const by_unit = {W: watts, A: amps, V: volts, degC, ohm: ohms, s: seconds, J: energy, deg: degrees};
  if (by_unit[unit]) return by_unit[unit](value);
  if (unit === 'share') return percent(value);
  return unit ? `${fixed(value, 1)}${SPACE}${unit}` : fixed(value, Number.isInteger(value) ? 0 : 2);
}
const SIGNALS = {
  output: 'output', state: 'state', trips: 'trips', warnings: 'warnings', setpoint: 'setpoint over the line',
  setpoint_active: 'setpoint that counts', setpoint_local: 'setpoint on the spot', setpoint_source: 'setpoint comes from',
  comms_age: 'since the last request', comms_gap_longest: 'longest silence', load_power: 'power', load_current: 'current',
  load_voltage: 'voltage at the load', measured: 'measured', temperature: 'true temperature', closed: 'contactor',
};
const SWITCHES = {terminal: ['closed', 'open'], relay: ['closed', 'open'], closed: ['closed', 'open']};
/// A signal in words: {of: 'soak-heater', what: 'since the last request'}.
export function signalName(name) {
  const [of, ...rest] = name.split('.'), what = rest.join('.');
  return {of, what: SIGNALS[what] || what.replace(/_l(\d)$/, ' L$1').replaceAll('_', ' ').replaceAll('.', ' ')};
}
/// Its value in words, by what /api/bench says of it.
export function signalValue(value, about) {
  if (!has(value)) return NONE;
  if (about.quantity === 'switch') {
    const [on, off] = SWITCHES[about.name.split('.')[1]] || ['on', 'off'];
    return value ? on : off;
  }
  return quantity(value, about.quantity === 'ratio' ? 'share' : about.unit, about.words, about.bits);
}
export const list = (items) => (items.length < 2 ? items.join('') : `${items.slice(0, -1).join(', ')} and ${items.at(-1)}`);

/// kind: how it is drawn (off, wait, on); rank: what needs eyes most; short: the state beside the unit's name.
export const STATES = {
  tripped: {kind: 'off', rank: 7, is: 'is off, tripped', shape: 'bang'},
  inhibited: {kind: 'off', rank: 6, is: 'is off, latched', shape: 'lock'},
  unpowered: {kind: 'off', rank: 5, is: 'has no control supply', shape: 'ring'},
  stopped: {kind: 'off', rank: 4, is: 'is off, stopped', shape: 'square'},
  starting: {kind: 'wait', rank: 3, is: 'is starting', shape: 'glass'},
  holding: {kind: 'wait', rank: 2, is: 'holds its last command', shape: 'bars'},
  preset: {kind: 'wait', rank: 1, is: 'heats at its preset', shape: 'diamond'},
  running: {kind: 'on', rank: 0, is: 'runs', shape: 'play'},
};
const UNKNOWN = {kind: 'wait', rank: 0, is: 'is in a state this page does not know', shape: 'ring'};
export const stateOf = (unit) => STATES[unit.state] || UNKNOWN;

/// The greatest current of its phases, in A.
export const current = (unit) => Math.max(0, ...unit.phases.map((phase) => phase.current || 0));
/// Watches for current that nobody commanded: off is a word then, and no more. Leakage stays below the share of the
/// rated current; what the meters still average just after the output went to 0 does not count.
const CONDUCTS = 0.005;
export class Conduction {
  constructor() { this.zero_since = new Map(); }
  forget() { this.zero_since.clear(); }
  /// The greatest current without command in A; null where all is as commanded.
  uncommanded(about, unit, at) {
    if (unit.output > 0) this.zero_since.delete(unit.name);
    else if (!this.zero_since.has(unit.name)) this.zero_since.set(unit.name, at);
    const flows = current(unit);
    if (unit.output > 0 || !about?.rated_current || flows <= CONDUCTS * about.rated_current) return null;
    const settled = at - this.zero_since.get(unit.name) > 0.5 + 2 * (about.averaging || 0);
    return settled || unit.trips.includes('thyristor-shorted') ? flows : null;
  }
}
/// It may heat, and nobody asks for heat: nothing is wrong with it.
const idle = (unit) => unit.state === 'running' && !(unit.output > 0) && !((unit.setpoint?.active || 0) > 0);

/// The state in one word; `ready` for one that runs and is asked for nothing.
export const stateWord = (unit) => (idle(unit) && !unit.warnings.includes('supply-absent') ? 'ready' : unit.state);

/// What a unit comes to, in words: also one that runs may deliver nothing. `uncommanded` as of Conduction.
export function headline(unit, uncommanded = null) {
  const known = stateOf(unit);
  if (uncommanded !== null) return {kind: 'off', shape: 'bang', text: `${unit.name} conducts without command: ${amps(uncommanded)} flow`};
  if (unit.state !== 'running') {
    const heats = known.kind === 'wait' && (unit.output || 0) > 0 && has(unit.power) ? `, ${watts(unit.power)}` : '';
    return {kind: known.kind, shape: known.shape, text: `${unit.name} ${known.is}${heats}`};
  }
  if (unit.warnings.includes('supply-absent')) {
    return {kind: 'off', shape: 'ring', text: `${unit.name} runs, but its load has no supply`};
  }
  if (!((unit.output || 0) > 0)) {
    if (idle(unit)) return {kind: 'idle', shape: 'ready', text: `${unit.name} is ready: it is asked for nothing`};
    return {kind: 'wait', shape: 'play', text: `${unit.name} runs, and gives nothing yet`};
  }
  return {kind: 'on', shape: 'play', text: `${unit.name} heats with ${watts(unit.power)}`};
}

const TROUBLES = {
  'comms-loss': 'comms lost', 'supply-absent': 'no supply at the load', 'supply-low': 'supply too low',
  'supply-high': 'supply too high', 'supply-frequency': 'mains frequency off', 'current-limit': 'held at the current limit',
  'voltage-limit': 'held at the voltage limit', 'power-limit': 'held at the power limit', 'load-open': 'load open',
  'partial-load-failure': 'part of the load has failed', 'heatsink-warm': 'heat sink warm',
  'request-overload': 'asked too much', 'sensor-fault': 'sensor fault', 'over-current': 'over-current',
  'phase-lost': 'a phase is lost', 'fuse-open': 'fuse open', 'heatsink-over-temperature': 'heat sink too hot',
  'thyristor-shorted': 'thyristor shorted: current without command',
};
export const trouble = (word) => TROUBLES[word] || word.replaceAll('-', ' ');
const POLICIES = {
  'latch-to-inhibit': 'then off, and latched',
  'hold-last-command': 'then it holds the last command',
  'go-to-preset': 'then it goes to its preset',
};
export const policy = (word) => POLICIES[word] || word;

const SHAPES = {
  play: 'M6 3.5 20.5 12 6 20.5z', ready: 'M5 2 22 12 5 22zM7.6 6.6v10.8L16.8 12z', square: 'M5 5h14v14H5z', bars: 'M5 4h5v16H5zM14 4h5v16h-5z',
  diamond: 'M12 2l10 10-10 10L2 12zM12 6.5 6.5 12l5.5 5.5 5.5-5.5z',
  lock: 'M4 10.5h2.5V8a5.5 5.5 0 0 1 11 0v2.5H20V22H4zM9.5 10.5h5V8a2.5 2.5 0 0 0-5 0z',
  bang: 'M12 1.5 23.5 22H.5zM10.7 9v6.5h2.6V9zM10.7 17v2.6h2.6V17z',
  ring: 'M12 2a10 10 0 1 0 .01 0zM12 5a7 7 0 1 1-.01 0z',
  glass: 'M4 2h16v3l-6 7 6 7v3H4v-3l6-7-6-7z', tick: 'M3 12.5 6 9.5l4 4L18.5 5l3 3L10 19.5z',
};
export function shape(name) {
  return svg('svg', {viewBox: '0 0 24 24', 'aria-hidden': 'true', focusable: 'false'},
             svg('path', {d: SHAPES[name] || SHAPES.ring, fill: 'currentColor', 'fill-rule': 'evenodd'}));
}
