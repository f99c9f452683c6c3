/// What is asked for, where that comes from, and which limit holds it back.
import {el, refill} from '/dom.js';
import {amps, percent, stateOf, trouble, volts, watts} from '/words.js';
import {Stage} from '/stage.js';

const CONTROLS = {'open-loop': 'output', voltage: 'voltage', 'voltage-squared': 'voltage squared', current: 'current', power: 'power'};
const IN = {power: watts, current: amps, voltage: volts};

export class Setpoint extends Stage {
  constructor() {
    super('Setpoint', 'setpoint');
    this.over_line = this.share('written');
    this.local = this.share('local');
    this.of = this.line('small');
    this.limits = this.add(el('ul', {class: 'tags'}));
  }
  /// What the percentage is of: power or current asked for is another share than the output that gives it.
  meaning(about, share) {
    const form = IN[about.control], full = about.full_scale;
    if (form && Number.isFinite(full)) return `${percent(share)} of ${form(full)} = ${form(share * full)}`;
    return `of its full ${CONTROLS[about.control] || about.control}`;
  }
  update(about, unit) {
    const setpoint = unit.setpoint, local = setpoint.source === 'local';
    this.main(percent(setpoint.active), local ? 'asked for, on the spot' : 'asked for, over a line');
    this.over_line(setpoint.register, `${percent(setpoint.register)}${local ? ', not heard' : ''}`);
    this.local(local || setpoint.local > 0 ? setpoint.local : null, `${percent(setpoint.local)}${local ? '' : ', not heard'}`);
    this.of(this.meaning(about, setpoint.active));
    const held = stateOf(unit).kind === 'off' && setpoint.active > 0 ? [['off', `not carried out: ${unit.state}`]] : unit.limits.map((limit) => ['wait', trouble(limit)]);
    refill(this.limits, held, () => (held.length
      ? held.map(([kind, text]) => el('li', {'data-kind': kind}, text))
      : [el('li', {}, 'no limit acts')]));
  }
}
