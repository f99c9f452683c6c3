/// The row of units: name, state in a word with its shape, output, why. The one that needs eyes most is shown large,
/// until somebody chooses.
import {attribute, byId, el, mark, say, show} from '/dom.js';
import {headline, percent, shape, stateOf} from '/words.js';

export class Units {
  constructor(chosen) {
    this.list = byId('units');
    this.chosen = chosen;
    this.cards = new Map();
    this.name = null;
    this.by_hand = false;
  }
  forget() {
    this.list.replaceChildren();
    this.cards.clear();
  }
  choose(name, by_hand) {
    this.name = name;
    this.by_hand = this.by_hand || by_hand;
    this.chosen(name);
  }
  update(units) {
    if (!units.some((unit) => unit.name === this.name)) {
      this.by_hand = false;
      this.name = null;
    }
    if (!this.by_hand) this.follow(units);
    show(this.list.parentElement, units.length > 1);
    this.list.classList.toggle('many', units.length > 5);
    for (const unit of units) this.draw(unit);
  }
  /// Goes over to a unit that is in greater trouble than the one shown; never back by itself.
  follow(units) {
    const rank = (unit) => (headline(unit).kind === 'off' ? 10 : 0) + stateOf(unit).rank;
    const shown = units.find((unit) => unit.name === this.name);
    let worst = shown || units[0];
    for (const unit of units) if (worst && rank(unit) > rank(worst)) worst = unit;
    if (worst && worst.name !== this.name) this.choose(worst.name, false);
  }
  draw(unit) {
    let card = this.cards.get(unit.name);
    if (!card) {
      card = {name: el('span', {class: 'unit-name'}, unit.name), shape: el('span', {class: 'shape'}), word: el('span', {class: 'unit-state'}),
              output: el('span', {class: 'unit-output'}), why: el('span', {class: 'unit-why'})};
      card.button = el('button', {type: 'button', class: 'unit', 'aria-pressed': 'false', onclick: () => this.choose(unit.name, true)},
                       card.name, el('span', {class: 'unit-line'}, card.shape, card.word, card.output), card.why);
      this.cards.set(unit.name, card);
      this.list.append(el('li', {}, card.button));
    }
    const told = headline(unit);
    mark(card.button, 'kind', told.kind);
    attribute(card.button, 'aria-pressed', String(unit.name === this.name));
    say(card.word, unit.state);
    say(card.output, percent(unit.output));
    say(card.why, unit.says);
    if (card.shown !== told.shape) {
      card.shown = told.shape;
      card.shape.replaceChildren(shape(told.shape));
    }
  }
}
