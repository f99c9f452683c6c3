/// Any action there is, from the catalogue: word, target and its keys. Gives the line that does it.
import {el, say} from '/dom.js';

const GROUPS = {lines: 'Lines', wiring: 'Wiring', unit: 'Units', supply: 'Supply', load: 'Loads', sensor: 'Sensors', plant: 'Plant'};
const UNITS = {duration: 's', share: '%', percentage: '%', frequency: 'Hz', difference: 'K'};

const plain = (word) => word.replaceAll('_', ' ');

export class ActionForm {
  constructor(actions, act) {
    this.actions = actions;
    this.word = el('select', {id: 'act-word'}, ...this.groups());
    this.target = el('select', {id: 'act-target'});
    this.meaning = el('p', {class: 'small', id: 'act-meaning'});
    this.keys = el('div', {class: 'keys'});
    this.line = el('code', {});
    this.node = el('form', {class: 'action-form', onsubmit: (event) => {
      event.preventDefault();
      act(this.text());
    }}, el('label', {}, 'What ', this.word), this.meaning, el('label', {}, 'To what ', this.target), this.keys,
    el('p', {class: 'small'}, 'In words: ', this.line), el('button', {type: 'submit'}, 'Do it'));
    this.word.addEventListener('change', () => this.pick());
    this.node.addEventListener('input', () => say(this.line, this.text()));
    this.pick();
  }
  groups() {
    const names = [...new Set(this.actions.map((action) => action.group))];
    return names.map((name) => el('optgroup', {label: GROUPS[name] || name}, ...this.actions.filter((action) => action.group === name && action.targets.length)
      .map((action) => el('option', {value: action.word}, plain(action.word)))));
  }
  pick() {
    const action = this.actions.find((one) => one.word === this.word.value);
    if (!action) return;
    this.action = action;
    say(this.meaning, action.meaning);
    this.target.replaceChildren(...action.targets.map((target) => el('option', {value: target}, target)));
    this.fields = action.keys.map((key) => ({key, input: this.field(key)}));
    this.keys.replaceChildren(...this.fields.map(({key, input}) => el('label', {}, `${plain(key.key)} `, input, ` ${UNITS[key.kind] || ''}`, el('span', {class: 'small'}, ` ${key.meaning}`))));
    say(this.line, this.text());
  }
  field(key) {
    if (key.words?.length) {
      const none = key.required ? [] : [el('option', {value: ''}, key.fallback ? `as usual: ${key.fallback}` : 'all')];
      return el('select', {}, ...none, ...key.words.map((word) => el('option', {value: word}, word)));
    }
    const input = el('input', {type: 'number', step: 'any', required: key.required, placeholder: key.fallback ?? ''});
    input.addEventListener('input', () => input.setCustomValidity(''));
    input.addEventListener('invalid', () => input.setCustomValidity(`Give a number: ${key.meaning}.`));
    return input;
  }
  text() {
    const parts = [this.action.word, this.target.value];
    for (const {key, input} of this.fields) {
      if (input.value !== '') parts.push(key.key, UNITS[key.kind] ? `${input.value} ${UNITS[key.kind]}` : input.value);
    }
    return parts.join(' ');
  }
}
