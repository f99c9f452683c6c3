/// One mains cycle as it is on the load: the voltage as an area, the current as a line, one strip a phase.
import {el, svg} from '/dom.js';
import {ask} from '/talk.js';

const WIDTH = 240, HEIGHT = 46, MIDDLE = HEIGHT / 2;

function path(samples, top) {
  const step = WIDTH / Math.max(1, samples.length - 1);
  return samples.map((value, at) => `${at ? 'L' : 'M'}${(at * step).toFixed(1)} ${(MIDDLE - (value || 0) / top * (MIDDLE - 2)).toFixed(1)}`).join('');
}
const greatest = (phases, key) => Math.max(1e-9, ...phases.flatMap((phase) => phase[key].map((value) => Math.abs(value || 0))));

export class Cycle {
  constructor() {
    this.picture = svg('svg', {viewBox: `0 0 ${WIDTH + 30} ${HEIGHT}`, role: 'img'});
    this.node = el('figure', {class: 'cycle'}, this.picture, el('figcaption', {}, el('span', {class: 'key-voltage'}, 'voltage'), ' and ',
                   el('span', {class: 'key-current'}, 'current'), ' at the load, one mains cycle'));
    this.drawn = false;
    this.asked = false;
    this.unit = null;
    this.peak = {};
  }
  /// Asks for the cycle of this unit, at most one question at a time.
  async refresh(unit) {
    if (this.asked) return;
    this.asked = true;
    try {
      if (unit !== this.unit) this.peak = {};
      this.unit = unit;
      this.draw(await ask(`/api/waves/${encodeURIComponent(unit)}`));
    } catch (no_waves) {
      this.drawn = false; // the figures beside it say the same
    } finally {
      this.asked = false;
    }
  }
  draw(waves) {
    const phases = waves.phases || [];
    this.drawn = phases.length > 0;
    // The scale is the greatest seen, so that less current also looks like less.
    for (const key of ['voltage', 'current']) this.peak[key] = Math.max(this.peak[key] || (key === 'voltage' ? 10 : 1), greatest(phases, key));
    const parts = [];
    phases.forEach((phase, at) => {
      const voltage = path(phase.voltage, this.peak.voltage);
      const group = svg('g', {transform: `translate(30 ${at * HEIGHT})`},
                        svg('line', {class: 'axis', x1: 0, x2: WIDTH, y1: MIDDLE, y2: MIDDLE}),
                        svg('path', {class: 'voltage', d: `${voltage}L${WIDTH} ${MIDDLE}L0 ${MIDDLE}Z`}),
                        svg('path', {class: 'current', d: path(phase.current, this.peak.current)}));
      const name = svg('text', {x: 0, y: at * HEIGHT + MIDDLE + 4});
      name.textContent = phase.name;
      parts.push(name, group);
    });
    this.picture.setAttribute('viewBox', `0 0 ${WIDTH + 30} ${Math.max(1, phases.length) * HEIGHT}`);
    this.picture.setAttribute('aria-label', `One mains cycle of ${waves.unit}: ${phases.map((phase) => `${phase.name} up to ${Math.round(greatest([phase], 'voltage'))} V and ${greatest([phase], 'current').toFixed(1)} A`).join(', ')}`);
    this.picture.replaceChildren(...parts);
  }
}
