/// What the unit makes of it: state, output, terminals, relays, warnings and trips.
import {el, mark, refill, say} from '/dom.js';
import {degrees, headline, percent, shape, stateWord, trouble} from '/words.js';
import {Facts, Stage} from '/stage.js';

export class Output extends Stage {
  constructor() {
    super('Output', 'output');
    this.sign = el('span', {class: 'shape', 'aria-hidden': 'true'});
    this.word = el('strong', {class: 'state-word'});
    this.body.append(el('p', {class: 'state'}, this.sign, this.word));
    this.given = this.share('');
    this.tags = this.add(el('ul', {class: 'tags'}));
    this.facts = new Facts();
    this.add(this.facts.node);
  }
  update(about, unit, state, uncommanded) {
    const told = headline(unit, uncommanded);
    this.main(percent(unit.output), 'given, of full conduction');
    mark(this.node, 'kind', told.kind);
    say(this.word, stateWord(unit));
    refill(this.sign, told.shape, () => [shape(told.shape)]);
    this.given(unit.output, '');
    const tags = [...unit.trips.map((word) => ['off', `trip: ${trouble(word)}`]),
                  ...unit.warnings.filter((word) => !unit.trips.includes(word)).map((word) => ['wait', `warning: ${trouble(word)}`])];
    refill(this.tags, tags, () => (tags.length ? tags.map(([kind, text]) => el('li', {'data-kind': kind}, text)) : [el('li', {}, 'no warning, no trip')]));
    const terminals = Object.entries(unit.terminals).map(([name, closed]) => [`${name} terminal`, closed ? 'closed' : 'open']);
    const relays = unit.relays.map((relay) => [`relay ${relay.name}`, relay.closed ? 'closed' : 'open']);
    this.facts.update([this.firing(about, unit), ...terminals, ...relays]);
  }
  firing(about, unit) {
    if (!(unit.output > 0)) return ['fires', 'not at all'];
    if (about.firing === 'phase-angle') return ['fires at', degrees(unit.firing_angle)];
    return ['conducts', `${percent(unit.duty ?? unit.output)} of cycles`];
  }
}
