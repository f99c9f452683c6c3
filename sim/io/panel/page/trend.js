/// The last five minutes of some signals: curves, and the same in numbers.
import uPlot from '/vendor/uPlot.esm.js';
import {byId, el, refill, say} from '/dom.js';
import {address, ask} from '/talk.js';
import {clock, quantity} from '/words.js';

const SECONDS = 300, MOST = 8;
const SHORTEST = 60, TIMES = [1, 2, 5, 10, 15, 30, 60, 120, 300]; // s, of the axis of time
const DASHES = [[], [7, 4], [2, 3], [10, 3, 2, 3]];
const UNITS = {degC: '°C', ohm: 'Ω', s: 's', deg: '°'};

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

export class Trend {
  constructor() {
    this.choice = byId('trend-choice');
    this.signals = new Map();
    this.names = [];
    this.data = {at: [], values: {}};
    this.busy = false;
    this.choice.addEventListener('change', () => {
      this.by_hand = true;
      this.choose();
    });
    byId('trend-filter').addEventListener('input', () => this.offer());
    byId('trend-own').addEventListener('toggle', () => this.offer());
    document.documentElement.addEventListener('look', () => this.draw(true));
    new ResizeObserver(() => this.fit()).observe(byId('trend-plot'));
  }
  about(bench) {
    this.signals = new Map(bench.signals.map((signal) => [signal.name, signal]));
    this.zones = bench.zones.map((zone) => zone.name);
    this.unit = null;
    this.forget();
  }
  forget() {
    this.data = {at: [], values: {}};
  }
  /// The selections that make sense for a unit; keeps the kind that was chosen.
  of(unit) {
    if (this.unit === unit) return;
    this.unit = unit;
    const name = unit.name, present = (names) => names.filter((one) => this.signals.has(one));
    this.sets = {
      'asked, given and heat': present([`${name}.setpoint_active`, `${name}.output`, `${unit.heats}.measured`]),
      'watchdog and state': present([`${name}.comms_age`, `${name}.state`]),
      'power and current': present([`${name}.load_power`, `${name}.load_current`]),
      'currents of the phases': present(['_l1', '_l2', '_l3'].map((end) => `${name}.load_current${end}`)),
      'temperatures of all zones': present(this.zones.map((zone) => `${zone}.measured`)),
      'element and heat sink': present([`${name}.element_temperature`, `${name}.heatsink_temperature`]),
    };
    const chosen = this.choice.value, own = 'my own choice';
    const offered = [...Object.keys(this.sets).filter((set) => this.sets[set].length), own];
    this.choice.replaceChildren(...offered.map((set) => el('option', {value: set}, set)));
    if (this.by_hand && offered.includes(chosen)) this.choice.value = chosen;
    if (this.choice.value !== own) this.choose();
  }
  choose() {
    const set = this.sets?.[this.choice.value];
    if (set) this.set(set);
    else byId('trend-own').open = true;
  }
  set(names) {
    this.names = names.slice(0, MOST);
    this.data = {at: [], values: {}};
    this.offer();
    byId('link-trend').setAttribute('href', address('/api/trend.csv', {seconds: String(SECONDS)}));
    this.refresh();
  }
  /// The tick boxes: those chosen first, then what the filter lets through.
  offer() {
    if (!byId('trend-own').open) return;
    const wanted = byId('trend-filter').value.trim().toLowerCase();
    const found = [...this.signals.keys()].filter((name) => name.toLowerCase().includes(wanted) && !this.names.includes(name));
    const names = [...this.names, ...found.slice(0, 40)];
    refill(byId('trend-signals'), [names, this.names], () => names.map((name) => {
      const box = el('input', {type: 'checkbox', 'data-key': name, checked: this.names.includes(name)});
      box.addEventListener('change', () => {
        this.choice.value = 'my own choice';
        this.set(box.checked ? [...this.names, name] : this.names.filter((other) => other !== name));
      });
      return el('label', {class: 'tick'}, box, ` ${name}`);
    }));
  }
  /// Fetches what is new since the last time, and draws.
  async refresh() {
    if (this.busy || !this.names.length || document.hidden) return;
    this.busy = true;
    const names = this.names;
    try {
      const last = this.data.at.at(-1), known = last !== undefined && names.every((name) => this.data.values[name]);
      const wanted = known ? Math.min(SECONDS, Math.ceil((performance.now() - this.fetched) / 1000) + 2) : SECONDS;
      const fresh = await ask('/api/trend', {signals: names.join(','), seconds: String(wanted)});
      if (names !== this.names) return;
      this.fetched = performance.now();
      if (known) this.append(fresh, last);
      else this.data = fresh;
      this.draw(false);
    } catch (no_bench) {
      // drawn again when there is one
    } finally {
      this.busy = false;
      if (names !== this.names) this.refresh();
    }
  }
  append(fresh, last) {
    const from = fresh.at.findIndex((at) => at > last);
    if (from < 0) return;
    this.data.at.push(...fresh.at.slice(from));
    const old = this.data.at.findIndex((at) => at >= this.data.at.at(-1) - SECONDS);
    this.data.at.splice(0, old);
    for (const name of this.names) {
      const values = this.data.values[name];
      values.push(...fresh.values[name].slice(from));
      values.splice(0, old);
    }
  }
  draw(anew) {
    const {at, values} = this.data, rows = this.names.map((name) => values[name] || []);
    const key = JSON.stringify(this.names);
    if (anew || key !== this.key || !this.plot) {
      this.plot?.destroy();
      this.key = key;
      this.plot = this.names.length && at.length ? new uPlot(this.options(), [at, ...rows], byId('trend-plot')) : null;
    } else {
      this.plot.setData([at, ...rows]);
    }
    this.numbers(rows);
  }
  options() {
    const ink = colour('--muted'), grid = colour('--line');
    const unit_of = (name) => this.measure(name);
    const units = [...new Set(this.names.map(unit_of))];
    const words = (unit) => this.signals.get(this.names.find((name) => unit_of(name) === unit))?.words;
    const axis = (unit, place) => ({
      scale: unit || 'none', side: place % 2 ? 1 : 3, stroke: ink, font: '14px system-ui, sans-serif', size: (_, texts) => this.room(texts), gap: 6,
      grid: {show: place === 0, stroke: grid, width: 1}, ticks: {stroke: grid},
      values: (_, ticks) => ticks.map((tick) => this.tick(tick, unit, words(unit))),
    });
    const scales = Object.fromEntries(units.map((unit) => [unit || 'none', {auto: true, range: (_, least, most) => this.range(least, most, unit)}]));
    return {
      width: Math.max(200, byId('trend-plot').clientWidth), height: 240, legend: {show: false}, cursor: {show: false},
      padding: [12, null, null, null],
      scales: {x: {time: false, range: (_, least, most) => [least, Math.max(most, least + SHORTEST)]}, ...scales},
      series: [{}, ...this.names.map((name, at) => ({scale: unit_of(name) || 'none', stroke: colour(`--curve-${at % 4 + 1}`), width: 2.5,
                                                    dash: DASHES[at % 4], points: {show: false}}))],
      axes: [{space: 90, incrs: TIMES, stroke: ink, font: '14px system-ui, sans-serif', grid: {stroke: grid, width: 1}, ticks: {stroke: grid}, values: (_, ticks) => ticks.map((tick) => clock(tick))},
             ...units.slice(0, 3).map(axis)],
    };
  }
  /// What a signal is measured in, which is also the axis it is drawn at: one of its own for words.
  measure(name) {
    const about = this.signals.get(name);
    if (about?.words) return `words of ${name.split('.').at(-1)}`;
    return about?.quantity === 'ratio' ? 'share' : about?.unit || '';
  }
  tick(value, unit, words) {
    if (words) return words[String(value)] ?? '';
    if (unit === 'share') return `${Math.round(value * 100)} %`;
    if ((unit === 'W' || unit === 'J') && Math.abs(value) >= 1000) return `${+(value / 1000).toFixed(1)} k${unit}`;
    return `${+value.toFixed(2)} ${UNITS[unit] || unit}`;
  }
  /// Wide enough for the longest text of an axis, which may be a state in words.
  room(texts) {
    this.pen ??= document.createElement('canvas').getContext('2d');
    this.pen.font = '14px system-ui, sans-serif';
    return Math.ceil(Math.max(40, ...(texts || []).map((text) => this.pen.measureText(text || '').width)) + 22);
  }
  range(least, most, unit) {
    if (least === null || most === null) return [0, 1];
    if (unit === 'share') return [Math.min(0, least), Math.max(1, most)];
    if (unit === 'degC') return [Math.floor(least - 2), Math.ceil(most + 2)];
    return [Math.min(0, least), most > 0 ? most * 1.08 : 1];
  }
  numbers(rows) {
    const body = byId('trend-table').tBodies[0];
    refill(body, this.names, () => this.names.map((name, at) => el('tr', {},
      el('th', {scope: 'row'}, el('span', {class: `key curve-${at % 4 + 1}`, 'aria-hidden': 'true'}), ` ${name}`), el('td'), el('td'), el('td'))));
    this.names.forEach((name, at) => {
      const about = this.signals.get(name) || {}, there = rows[at].filter((value) => value !== null);
      const unit = this.measure(name), cells = body.rows[at].cells;
      const ends = there.length ? [there.at(-1), there.reduce((a, b) => Math.min(a, b)), there.reduce((a, b) => Math.max(a, b))] : [null, null, null];
      ends.forEach((value, column) => say(cells[column + 1], quantity(value, unit, about.words)));
    });
  }
  fit() {
    const width = byId('trend-plot').clientWidth;
    if (this.plot && width > 0 && width !== this.plot.width) this.plot.setSize({width, height: 240});
  }
}
