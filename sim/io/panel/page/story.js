/// The unit that is shown large: what it comes to, what has to happen next, and the story of a command.
import {byId, el, mark, refill, say, show} from '/dom.js';
import {clock, headline, seconds, shape} from '/words.js';
import {AskedBy} from '/story_asked.js';
import {Setpoint} from '/story_setpoint.js';
import {Output} from '/story_output.js';
import {Electricity} from '/story_electricity.js';
import {Heat} from '/story_heat.js';

export class Story {
  constructor() {
    this.stages = [new AskedBy(), new Setpoint(), new Output(), new Electricity(), new Heat()];
    byId('flow').append(...this.stages.map((stage) => stage.node));
  }
  /// Which unit is drawn: its description in the bench and its present state.
  update(about, unit, state, latest) {
    const told = headline(unit);
    mark(byId('headline-box'), 'kind', told.kind);
    say(byId('headline-text'), told.text);
    refill(byId('headline-shape'), told.shape, () => [shape(told.shape)]);
    const [why, ...more] = unit.says.split(/(?<=\.) (?=[A-Z])/);
    say(byId('says'), why);
    say(byId('says-more'), more.join(' '));
    show(byId('says-more'), more.length > 0);
    show(byId('latest'), latest);
    if (latest) say(byId('latest'), `${clock(latest.at)} ${latest.sentence}`);
    this.announce(unit);
    this.steps(unit);
    this.down(unit, state.recovery);
    for (const stage of this.stages) stage.update(about, unit, state);
  }
  /// Heard by those who cannot look: state and reason, without the figures that change all the time.
  announce(unit) {
    const first = unit.steps.find((step) => !step.done);
    say(byId('headline-live'), `${unit.name}: ${unit.state}. ${unit.says}${first ? ` Next: ${first.text}` : ''}`);
  }
  steps(unit) {
    show(byId('steps-box'), unit.steps.length > 0);
    say(byId('steps-title'), unit.trips.length || unit.state === 'inhibited' ? 'What clears it, in this order' : 'What it waits for');
    const first = unit.steps.findIndex((step) => !step.done);
    refill(byId('steps'), unit.steps, () => unit.steps.map((step, at) => {
      const place = step.done ? 'done' : at === first ? 'next' : 'later';
      return el('li', {'data-place': place}, el('span', {class: 'step-mark'}, step.done ? shape('tick') : null, place), el('span', {}, step.text));
    }));
  }
  down(unit, recovery) {
    const node = byId('down'), ours = recovery && recovery.lost_at !== null && recovery.units.includes(unit.name);
    show(node, ours);
    if (!ours) return;
    say(node, recovery.back_at === null ? `Heat away for ${seconds(recovery.seconds)}` : `Heat was away for ${seconds(recovery.seconds)}; it is back`);
  }
}
