/// One stage of the story: a name, one big figure, what it is, and details.
import {el, say, stretch} from '/dom.js';

export class Stage {
  constructor(name, css) {
    this.figure = el('span', {class: 'figure'});
    this.what = el('span', {class: 'what'});
    this.body = el('div', {class: 'stage-body'});
    this.node = el('li', {class: `stage ${css}`}, el('h3', {}, name), el('p', {class: 'main-figure'}, this.figure, ' ', this.what), this.body);
  }
  main(figure, what) {
    say(this.figure, figure);
    if (this.figure.hidden !== !figure) this.figure.hidden = !figure;
    say(this.what, what);
  }
  /// A line of text that is there for as long as it has something to say.
  line(css = '') {
    const node = el('p', {class: css});
    this.body.append(node);
    return (text) => {
      say(node, text);
      if (node.hidden !== !text) node.hidden = !text;
    };
  }
  /// A named share with a bar, all on the same scale.
  share(name) {
    const value = el('span', {class: 'share-value'}), bar = el('span', {class: 'fill'});
    const node = el('p', {class: 'share'}, el('span', {class: 'share-name'}, name), value, el('span', {class: 'track', 'aria-hidden': 'true'}, bar));
    this.body.append(node);
    return (share, text) => {
      if (node.hidden !== (share === null)) node.hidden = share === null;
      say(value, text);
      stretch(bar, share);
    };
  }
  add(node) {
    this.body.append(node);
    return node;
  }
}

/// A list of facts: name and value, refilled only when they change.
export class Facts {
  constructor() {
    this.node = el('dl', {class: 'facts'});
    this.rows = [];
  }
  update(facts) {
    const wanted = facts.filter(([, value]) => value !== null && value !== undefined);
    while (this.rows.length > wanted.length) this.rows.pop().row.remove();
    wanted.forEach(([name, value], at) => {
      let row = this.rows[at];
      if (!row) {
        row = {name: el('dt'), value: el('dd')};
        row.row = el('div', {}, row.name, row.value);
        this.rows.push(row);
        this.node.append(row.row);
      }
      say(row.name, name);
      say(row.value, value);
    });
  }
}
