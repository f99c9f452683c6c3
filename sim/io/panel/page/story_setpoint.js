/// What is asked for, where that comes from, and which limit holds it back.
import {el, refill} from '/dom.js';
import {percent, stateOf, trouble} from '/words.js';
import {Stage} from '/stage.js';

const CONTROLS = {'open-loop': 'output', voltage: 'voltage', 'voltage-squared': 'voltage squared', current: 'current', power: 'power'};

export class Setpoint extends Stage {
  constructor() {
    super('Setpoint', 'setpoint');
    this.over_line = this.share('written');
    this.local = this.share('local');
    this.of = this.line('small');
    this.limits = this.add(el('ul', {class: 'tags'}));
  }
  update(about, unit) {
    const setpoint = unit.setpoint, local = setpoint.source === 'local';
    this.main(percent(setpoint.active), local ? 'asked for, on the spot' : 'asked for, over a line');
    this.over_line(setpoint.register, `${percent(setpoint.register)}${local ? ', not heard' : ''}`);
    this.local(local || setpoint.local > 0 ? setpoint.local : null, `${percent(setpoint.local)}${local ? '' : ', not heard'}`);
    this.of(`of its full ${CONTROLS[about.control] || about.control}`);
    const held = stateOf(unit).kind === 'off' && setpoint.active > 0 ? [['off', `not carried out: ${unit.state}`]] : unit.limits.map((limit) => ['wait', trouble(limit)]);
    refill(this.limits, held, () => (held.length
      ? held.map(([kind, text]) => el('li', {'data-kind': kind}, text))
      : [el('li', {}, 'no limit acts')]));
  }
}
