/// Where the power goes: element, zone, heat sink.
import {mark} from '/dom.js';
import {degC, energy, seconds} from '/words.js';
import {Facts, Stage} from '/stage.js';

export class Heat extends Stage {
  constructor() {
    super('Heat', 'heat');
    this.note = this.line('alarm');
    this.facts = new Facts();
    this.add(this.facts.node);
  }
  update(about, unit, state) {
    const zone = state.zones.find((one) => one.name === about.heats);
    if (!zone) this.main('', 'not modelled: it heats no zone of this bench');
    else if (zone.measured === null) this.main('no reading', `of zone ${zone.name}`);
    else this.main(degC(zone.measured), `measured in ${zone.name}`);
    const out = zone?.cut_out === true;
    mark(this.node, 'kind', out ? 'off' : 'on');
    this.note(out ? 'The over-temperature cut-out has acted: reset it by hand.' : '');
    // Elements that hold no heat of their own are as warm as their zone: no news.
    const known = zone?.temperature ?? zone?.measured, apart = zone && Number.isFinite(unit.element_temperature) && Math.abs(unit.element_temperature - (known ?? 0)) >= 1;
    const fact = (value, form) => (value === null || value === undefined ? null : form(value));
    this.facts.update([
      ['element', apart ? degC(unit.element_temperature) : null],
      ['zone, truly', zone ? fact(zone.temperature, degC) : null],
      ['heat sink', fact(unit.heatsink_temperature, degC)],
      ['energy', fact(unit.energy, energy)],
      ['heated for', fact(unit.run_time, seconds)],
    ]);
  }
}
