/// The trainer's drawer: what can be done to the bench, what is in force, and how it is taken back. No action asks
/// again; all of it is a simulation.
import {byId, el, refill, say, show} from '/dom.js';
import {tell} from '/talk.js';
import {clock} from '/words.js';
import {ActionForm} from '/action_form.js';
import {doneWords} from '/done_words.js';

const SPEEDS = [1, 5, 20, 100];

export class Drawer {
  constructor() {
    this.node = byId('drawer');
    this.button = byId('drawer-button');
    this.button.addEventListener('click', () => this.open(this.node.hidden));
    document.addEventListener('keydown', (event) => {
      if (event.key === 'Escape' && !this.node.hidden) this.open(false);
    });
  }
  /// Somebody works with it: what it acts on must not change under their finger.
  busy() { return !this.node.hidden; }
  /// The bench is known: the drawer is built anew.
  about(bench) {
    this.bench = bench;
    this.unit = null;
    this.says = el('p', {class: 'outcome', role: 'status'});
    this.in_force = el('ul', {class: 'in-force', tabindex: '0', 'aria-label': 'In force'});
    this.acts_on = el('h3', {class: 'acts-on'});
    this.shortcuts = el('div', {class: 'shortcuts'});
    this.local = el('input', {id: 'local', type: 'number', min: '0', max: '100', step: '1', value: '30', required: true});
    this.local.addEventListener('input', () => this.local.setCustomValidity(''));
    this.local.addEventListener('invalid', () => this.local.setCustomValidity('Give a number from 0 to 100, in percent.'));
    this.local_note = el('p', {class: 'small', id: 'local-note'});
    this.local.setAttribute('aria-describedby', 'local-note');
    this.speed = el('select', {id: 'plant-speed'}, ...SPEEDS.map((times) => el('option', {value: String(times)}, times === 1 ? 'as real' : `${times} times as fast`)));
    this.speed.addEventListener('change', () => this.act(`speed plant to ${this.speed.value}`));
    this.blind = el('input', {type: 'checkbox', id: 'blind'});
    this.blind.addEventListener('change', () => this.set_blind());
    this.recovery = el('p', {class: 'small'});
    const heading = el('div', {class: 'bar-of-tools'}, el('h2', {id: 'drawer-title'}, "Trainer's drawer"), el('button', {type: 'button', onclick: () => this.open(false)}, 'Close'));
    const top = el('div', {class: 'drawer-top'}, heading, this.says, el('h3', {}, 'In force'), this.in_force, this.acts_on);
    this.node.replaceChildren(top, this.recovery, this.shortcuts,
      el('form', {class: 'inline', onsubmit: (event) => {
        event.preventDefault();
        this.act(`local ${this.unit.name} to ${this.local.value} %`);
      }}, el('label', {}, 'Set on the spot, local ', this.local, ' %'), el('button', {type: 'submit'}, 'Set')), this.local_note,
      el('h3', {}, 'Anything else'), (this.form = new ActionForm(bench.actions, (text) => this.act(text))).node,
      el('h3', {}, 'For the class'), el('label', {class: 'tick'}, this.blind, ' The class sees symptoms only, not the faults'),
      el('label', {}, 'Zones and walls run ', this.speed));
    show(this.button, true);
  }
  open(yes) {
    show(this.node, yes);
    this.button.setAttribute('aria-expanded', String(yes));
    document.documentElement.classList.toggle('drawer-open', yes);
    if (yes) this.node.querySelector('button')?.focus({preventScroll: true});
    else this.button.focus();
  }
  async act(text) {
    try {
      const answer = await tell('/api/actions', {do: text});
      const words = doneWords(answer.done);
      this.outcome('on', words ? `Done: ${words}` : `Done: ${answer.done}`, words ? answer.done : null);
    } catch (refusal) {
      this.outcome('off', `Not done: ${refusal.message}`, null);
    }
  }
  /// What came of it, in a sentence; the line that did it beside it, as `tell` and a scenario write it.
  outcome(kind, text, line) {
    this.says.dataset.kind = kind;
    this.says.replaceChildren(text, ...(line ? [el('code', {class: 'line'}, ` ${line}`)] : []));
  }
  async set_blind() {
    try {
      await tell('/api/blind', {on: this.blind.checked});
      this.outcome('on', this.blind.checked ? 'The class does not see the faults now' : 'The class sees everything now', null);
    } catch (refusal) {
      this.blind.checked = !this.blind.checked;
      this.outcome('off', `Not done: ${refusal.message}`, null);
    }
  }
  update(about, state) {
    if (!this.bench) return;
    if (this.unit !== about) {
      this.unit = about;
      this.shortcuts.replaceChildren(...this.groups(about));
      say(this.acts_on, `Acts on ${about.name}`);
    }
    refill(this.in_force, state.in_force, () => (state.in_force.length ? state.in_force.map((one) => this.entry(one)) : [el('li', {class: 'small'}, 'nothing: all as it should be')]));
    const local = state.units.find((unit) => unit.name === about.name)?.setpoint.source === 'local';
    say(this.local_note, local ? 'The local setpoint counts now.' : 'The knob can be turned any time; it counts only once a master sets the source to local.');
    if (document.activeElement !== this.blind) this.blind.checked = state.blind;
    this.show_speed(state.plant_speed);
    const took = state.recovery;
    say(this.recovery, !took || took.lost_at === null ? '' : took.back_at === null ? 'The time to recover is running.' : `Last time to recover: ${took.seconds.toFixed(1)} s, from ${clock(took.lost_at)} to ${clock(took.back_at)}.`);
  }
  show_speed(times) {
    if (document.activeElement === this.speed || this.speed.value === String(times)) return;
    if (![...this.speed.options].some((option) => option.value === String(times))) this.speed.append(el('option', {value: String(times)}, `${times} times as fast`));
    this.speed.value = String(times);
  }
  entry(one) {
    const undo = one.undo ? el('button', {type: 'button', 'data-key': one.undo, title: one.undo, onclick: () => this.act(one.undo)}, 'Undo', el('span', {class: 'unseen'}, ` ${one.text}`)) : null;
    return el('li', {}, el('span', {}, one.text, el('span', {class: 'small'}, ` since ${clock(one.since)}`)), undo);
  }
  /// One-press buttons for the selected unit, as far as the catalogue has the word for the target.
  groups(unit) {
    const part = (word) => this.bench.actions.find((action) => action.word === word)?.targets.find((target) => target.startsWith(`${unit.name}.`)) || '';
    const name = unit.name, zone = unit.heats, main = unit.contactor, enable = `${name}.terminal.enable`;
    const resets = unit.terminals.includes('reset') && unit.reset_by?.includes('reset-terminal');
    return [
      ['Lines', unit.lines.flatMap((line) => [[`Cut ${line}`, 'cut', line], [`Restore ${line}`, 'restore', line], [`Lose answers on ${line}`, 'drop_answers', line, 'share 33 %']])],
      ['Terminals', [['Cycle enable', 'cycle', enable], ['Hold enable open', 'open', enable], ['Leave enable to its wiring', 'release', enable],
                     ...(resets ? [['Press reset', 'cycle', `${name}.terminal.reset`]] : [])]],
      ['Power', [['Control supply off', 'power_off', name], ['Control supply on', 'power_on', name],
                 ...(main ? [[`Open ${main}`, 'open', main], [`Leave ${main} to its wiring`, 'release', main]] : []),
                 ['Lose phase L1', 'phase_lost', 'supply.l1'], ['Phase L1 back', 'phase_back', 'supply.l1'], ['Dip to 70 %', 'dip', 'supply', 'to 70 % for 2 s']]],
      ['Load and power stage', [['One element open', 'element_open', part('element_open')], ['Fuse open', 'fuse_open', part('fuse_open')],
                                ['Thyristor shorted', 'thyristor_shorted', part('thyristor_shorted')], ['Fan stands', 'fan_failed', name], ['Mend the unit', 'mend', name]]],
      ['Sensor', zone ? [[`Break the sensor of ${zone}`, 'sensor_broken', zone], ['Sensor 25 K too high', 'sensor_offset', zone, 'by 25 K'], [`Mend ${zone}`, 'mend', zone]] : []],
    ].map(([title, offers]) => this.group(title, offers, unit)).filter(Boolean);
  }
  group(title, offers, unit) {
    const there = offers.filter(([, word, target]) => this.bench.actions.find((action) => action.word === word)?.targets.includes(target));
    if (!there.length) return null;
    const buttons = there.map(([label, word, target, keys]) => el('button', {type: 'button', onclick: () => this.act([word, target, keys].filter(Boolean).join(' '))}, label,
      // Told to those who only hear, where the label does not name what it acts on.
      target.startsWith(unit.name) && !label.includes(unit.name) ? el('span', {class: 'unseen'}, ` of ${unit.name}`) : null));
    return el('div', {role: 'group', 'aria-label': `${title}, ${unit.name}`}, el('h4', {}, title), el('div', {class: 'buttons'}, ...buttons));
  }
}
