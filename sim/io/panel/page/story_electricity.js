/// Voltage, current and power per phase, and the cycle as drawn.
import {el, say, show} from '/dom.js';
import {amps, current, ohms, volts, watts} from '/words.js';
import {Facts, Stage} from '/stage.js';
import {Cycle} from '/cycle.js';

export class Electricity extends Stage {
  constructor() {
    super('Voltage, current, power', 'electricity');
    this.rows = el('tbody');
    const heads = ['Phase', 'Voltage', 'Current', 'Power'].map((text) => el('th', {scope: 'col'}, text));
    this.add(el('table', {class: 'phases'}, el('thead', {}, el('tr', {}, ...heads)), this.rows));
    this.cells = [];
    this.leak = this.line('leak');
    this.cycle = new Cycle();
    this.add(this.cycle.node);
    this.facts = new Facts();
    this.add(this.facts.node);
  }
  update(about, unit, state, uncommanded) {
    this.main(watts(unit.power), 'turned into heat');
    while (this.cells.length > unit.phases.length) this.cells.pop().row.remove();
    unit.phases.forEach((phase, at) => {
      if (!this.cells[at]) {
        const cells = {name: el('th', {scope: 'row'}), voltage: el('td'), current: el('td'), power: el('td')};
        cells.row = el('tr', {}, cells.name, cells.voltage, cells.current, cells.power);
        this.cells.push(cells);
        this.rows.append(cells.row);
      }
      const cells = this.cells[at];
      say(cells.name, phase.name);
      say(cells.voltage, volts(phase.voltage));
      say(cells.current, amps(phase.current));
      say(cells.power, watts(phase.power));
    });
    if (uncommanded !== null) this.leak(`A thyristor no longer blocks: ${amps(uncommanded)} flow.`);
    else this.leak(!(unit.output > 0) && unit.leaks && current(unit) < 1 ? `Off is not isolated: the thyristors let ${amps(current(unit))} through. Treat the load as live.` : '');
    const contactor = state.contactors.find((one) => one.name === about.contactor);
    const mains = state.supply || {};
    this.facts.update([
      ['mains', unit.supply_voltages?.length ? volts(unit.supply_voltages.reduce((a, b) => a + b, 0) / unit.supply_voltages.length) : null],
      ['contactor', contactor ? `${contactor.name} ${contactor.closed ? 'closed' : 'open'}` : null],
      ['load now', unit.resistance === null ? null : ohms(unit.resistance)],
      ['mains, all units', Number.isFinite(mains.power) ? watts(mains.power) : null],
      ['neutral current', Number.isFinite(mains.neutral_current) ? amps(mains.neutral_current) : null],
    ]);
    show(this.cycle.node, this.cycle.drawn);
  }
}
