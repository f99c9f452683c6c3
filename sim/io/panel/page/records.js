/// Journal and traffic: what happened, in sentences, and each frame in plain words on request.
import {byId, el} from '/dom.js';
import {ask} from '/talk.js';
import {clock} from '/words.js';

const KEEP = 300;

/// A list that grows at its end, follows it on request, and keeps only so many.
class Roll {
  constructor({list, scroll, follow, filter, everything}) {
    Object.assign(this, {list: byId(list), scroll: byId(scroll), follow: byId(follow), filter: byId(filter), everything});
    this.filter.addEventListener('change', () => this.sift());
    this.follow.addEventListener('change', () => this.to_end());
    this.clear();
  }
  clear() {
    this.list.replaceChildren();
    this.last = 0;
    this.kinds = new Set();
    this.filter.replaceChildren(el('option', {value: ''}, this.everything));
  }
  add(entries, kind_of, draw) {
    const fresh = entries.filter((entry) => entry.n > this.last);
    if (!fresh.length) return;
    this.last = fresh.at(-1).n;
    const nodes = fresh.map((entry) => {
      const kind = kind_of(entry), node = draw(entry);
      node.dataset.kind = kind;
      node.hidden = this.filter.value !== '' && this.filter.value !== kind;
      if (!this.kinds.has(kind)) {
        this.kinds.add(kind);
        this.filter.append(el('option', {value: kind}, kind));
      }
      return node;
    });
    this.list.append(...nodes);
    while (this.list.childElementCount > KEEP) this.list.firstElementChild.remove();
    this.to_end();
  }
  sift() {
    for (const node of this.list.children) node.hidden = this.filter.value !== '' && this.filter.value !== node.dataset.kind;
    this.to_end();
  }
  to_end() {
    if (this.follow.checked) this.scroll.scrollTop = this.scroll.scrollHeight;
  }
}

export class Journal {
  constructor() {
    this.roll = new Roll({list: 'journal', scroll: 'journal-scroll', follow: 'journal-follow', filter: 'journal-subject', everything: 'everything'});
    this.latest = new Map(); // entries by subject
  }
  get last() { return this.roll.last; }
  clear() {
    this.roll.clear();
    this.latest = new Map();
  }
  add(entries) {
    for (const entry of entries) this.latest.set(entry.subject, entry);
    this.roll.add(entries, (entry) => entry.subject.split('.')[0], (entry) =>
      el('li', entry.by_action ? {class: 'by-action'} : {}, el('time', {}, clock(entry.at, true)), ' ', el('strong', {}, entry.subject), ' ',
         el('span', {}, entry.sentence)));
  }
}

export class Traffic {
  constructor() {
    this.roll = new Roll({list: 'traffic', scroll: 'traffic-scroll', follow: 'traffic-follow', filter: 'traffic-line', everything: 'all lines'});
  }
  clear() { this.roll.clear(); }
  async before() {
    try {
      this.add((await ask('/api/traffic', {limit: '60'})).frames);
    } catch (later) {
      // what comes live is enough
    }
  }
  /// While it does not follow, somebody reads: it stands still then.
  add(frames) {
    if (!this.roll.follow.checked && this.roll.list.childElementCount > 0) return;
    this.roll.add(frames, (frame) => frame.line, (frame) => this.draw(frame));
  }
  draw(frame) {
    const way = frame.to_units ? '→' : '←', who = frame.to_units ? frame.master : ''; // an answer says itself whose it is
    const summary = el('summary', {}, el('time', {}, clock(frame.at, true)), ' ',
                       el('span', {class: 'way'}, el('span', {'aria-hidden': 'true'}, `${way} `), who ? el('strong', {}, `${who} `) : null),
                       el('span', {}, frame.says), frame.trouble ? el('em', {class: 'trouble'}, ` ${frame.trouble}`) : null);
    const details = el('details', {}, summary);
    details.addEventListener('toggle', () => {
      if (details.open && details.childElementCount === 1) details.append(this.fields(frame));
    });
    return el('li', {}, details);
  }
  fields(frame) {
    const head = el('tr', {}, ...['Bytes', 'Field', 'Means'].map((text) => el('th', {scope: 'col'}, text)));
    const rows = frame.fields.map((field) => el('tr', {}, el('td', {}, el('code', {}, field.bytes)), el('td', {}, field.name), el('td', {}, field.means)));
    return el('div', {class: 'fields'},
              el('p', {class: 'small'}, `Frame ${frame.n} on ${frame.line}${frame.request && !frame.to_units ? `, the answer to frame ${frame.request}` : ''}`),
              el('table', {}, el('thead', {}, head), el('tbody', {}, ...rows)));
  }
}
