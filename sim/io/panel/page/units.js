/// The row of units: name, state in a word with its shape, output, why. The one that needs eyes most is shown large,
/// until somebody chooses; when all is well again, the one a lesson speaks of, or the first.
import {attribute, byId, el, mark, say, show} from '/dom.js';
import {amps, headline, percent, shape, stateOf, stateWord} from '/words.js';

const LINGERS = 15; // s: so long a unit that came back is still shown

export class Units {
  /// chosen: called when another unit is shown; holds: says whether somebody works on the unit shown, so that it stays.
  constructor(chosen, holds) {
    this.list = byId('units');
    this.chosen = chosen;
    this.holds = holds;
    this.lead = null;
    this.cards = new Map();
    this.name = null;
    this.by_hand = false;
  }
  forget() {
    this.lead = null;
    this.bad_at = null;
    this.list.replaceChildren();
    this.cards.clear();
  }
  choose(name, by_hand) {
    this.name = name;
    this.by_hand = this.by_hand || by_hand;
    this.chosen(name);
  }
  /// A lesson speaks of this unit.
  leads(name, anew) {
    this.lead = name;
    if (anew) this.by_hand = false;
  }
  /// flows: the current without command of each unit, or null.
  update(units, flows, at) {
    if (!units.some((unit) => unit.name === this.name)) {
      this.by_hand = false;
      this.name = null;
    }
    if (!this.by_hand && (!this.name || !this.holds())) this.follow(units, flows, at);
    show(this.list.parentElement, units.length > 1);
    this.list.classList.toggle('many', units.length > 5);
    this.list.classList.toggle('few-off', units.filter((unit) => headline(unit, flows.get(unit.name)).kind === 'off').length <= 4);
    for (const unit of units) this.draw(unit, flows.get(unit.name));
  }
  /// Goes over to a unit that is in greater trouble than the one shown, and back when all is well.
  follow(units, flows, at) {
    const rank = (unit) => {
      const {kind} = headline(unit, flows.get(unit.name));
      return kind === 'off' ? 10 + stateOf(unit).rank : kind === 'wait' ? stateOf(unit).rank : 0;
    };
    const home = units.find((unit) => unit.name === this.lead) || units[0];
    let goal = units.find((unit) => unit.name === this.name) || home;
    if (this.lead) goal = home;
    else for (const unit of units) if (rank(unit) > rank(goal)) goal = unit;
    if (rank(goal) > 0) this.bad_at = at;
    else if (at - (this.bad_at ?? -LINGERS) >= LINGERS) goal = home;
    if (goal && goal.name !== this.name) this.choose(goal.name, false);
  }
  draw(unit, uncommanded) {
    let card = this.cards.get(unit.name);
    if (!card) {
      card = {name: el('span', {class: 'unit-name'}, unit.name), shape: el('span', {class: 'shape'}), word: el('span', {class: 'unit-state'}),
              output: el('span', {class: 'unit-output'}), why: el('span', {class: 'unit-why'})};
      card.button = el('button', {type: 'button', class: 'unit', 'aria-pressed': 'false', onclick: () => this.choose(unit.name, true)},
                       card.name, el('span', {class: 'unit-line'}, card.shape, card.word, card.output), card.why);
      this.cards.set(unit.name, card);
      this.list.append(el('li', {}, card.button));
    }
    const told = headline(unit, uncommanded);
    mark(card.button, 'kind', told.kind);
    attribute(card.button, 'aria-pressed', String(unit.name === this.name));
    say(card.word, stateWord(unit));
    say(card.output, uncommanded === null ? percent(unit.output) : amps(uncommanded));
    say(card.why, unit.says);
    if (card.shown !== told.shape) {
      card.shown = told.shape;
      card.shape.replaceChildren(shape(told.shape));
    }
  }
}
