/// The unit that is shown large: what it comes to, what has to happen next, and the story of a command.
import {byId, el, mark, refill, say, show} from '/dom.js';
import {clock, headline, list, seconds, shape} from '/words.js';
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
  update(about, unit, state, uncommanded, latest) {
    const told = headline(unit, uncommanded);
    mark(byId('headline-box'), 'kind', told.kind);
    say(byId('headline-text'), told.text);
    refill(byId('headline-shape'), told.shape, () => [shape(told.shape)]);
    const [why, ...more] = unit.says.split(/(?<=\.) (?=[A-Z])/);
    say(byId('says'), why);
    say(byId('says-more'), more.join(' '));
    show(byId('says-more'), more.length > 0);
    // A reset that changed nothing is news; all else of the journal the state says already.
    const news = latest && told.kind === 'off' && /^reset |refused/i.test(latest.sentence);
    show(byId('latest'), news);
    if (news) say(byId('latest'), `${clock(latest.at)} ${latest.sentence}`);
    const steps = this.what_next(about, unit, state, uncommanded);
    this.announce(unit, told, steps, uncommanded);
    this.steps(unit, steps, uncommanded);
    this.down(unit, state.recovery, uncommanded);
    for (const stage of this.stages) stage.update(about, unit, state, uncommanded);
  }
  /// Heard by those who cannot look: state and reason, without the figures that change all the time.
  announce(unit, told, steps, uncommanded) {
    const first = steps.find((step) => !step.done);
    const danger = uncommanded === null ? '' : ' It conducts without command.';
    say(byId('headline-live'), `${unit.name}: ${unit.state}.${danger} ${unit.says}${first ? ` Next: ${first.text}` : ''}`);
  }
  /// What has to happen, as the unit says, with what this page sees besides: which cable is out, and current that no
  /// command ends.
  what_next(about, unit, state, uncommanded) {
    const steps = unit.steps.map((step) => (/^bring comms back/i.test(step.text) && !step.done ? {...step, text: this.comms(about, state, step.text)} : step));
    if (uncommanded === null) return steps;
    const main = state.contactors.find((one) => one.name === about.contactor);
    const stop = about.contactor ? `Open the contactor ${about.contactor}: only that stops it` : 'Switch the mains off: no contactor is in between, and nothing else stops it';
    return [{text: stop, done: main?.closed === false}, ...steps.filter((step) => !/^open (the )?contactor/i.test(step.text))];
  }
  comms(about, state, text) {
    const told = about.comms_lines || [], lines = state.lines.filter((line) => (told.length ? told : about.lines).includes(line.name));
    const cut = lines.filter((line) => line.state === 'cut').map((line) => line.name);
    const [how, needs] = text.split(/: */, 2), rest = needs ? ` (${needs})` : '';
    if (cut.length) return `${how}: the line ${list(cut)} is cut${rest}`;
    const feeds = told.length ? told : about.lines;
    return told.length || feeds.length === 1 ? `${how}: requests on ${list(feeds)}${rest}` : text;
  }
  steps(unit, steps, uncommanded) {
    show(byId('steps-box'), steps.length > 0);
    say(byId('steps-title'), uncommanded !== null ? 'What stops it, and what clears it' : unit.trips.length || unit.state === 'inhibited' ? 'What clears it, in this order' : 'What it waits for');
    const first = steps.findIndex((step) => !step.done);
    refill(byId('steps'), steps, () => steps.map((step, at) => {
      const place = step.done ? 'done' : at === first ? 'next' : 'later';
      return el('li', {'data-place': place}, el('span', {class: 'step-mark'}, step.done ? shape('tick') : null, place), el('span', {}, step.text));
    }));
  }
  down(unit, recovery, uncommanded) {
    const node = byId('down'), ours = recovery && recovery.lost_at !== null && recovery.units.includes(unit.name) && uncommanded === null;
    show(node, ours);
    if (!ours) return;
    say(node, recovery.back_at === null ? `Heat away for ${seconds(recovery.seconds)}` : `Heat was away for ${seconds(recovery.seconds)}; it is back`);
  }
}
