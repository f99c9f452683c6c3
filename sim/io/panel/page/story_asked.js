/// Who asks, how often, and how long the watchdog would still wait.
import {el, mark, refill, stretch} from '/dom.js';
import {often, percent, policy, seconds} from '/words.js';
import {Stage} from '/stage.js';

const LINES = {cut: 'cut: nothing gets through', impaired: 'disturbed'};

export class AskedBy extends Stage {
  constructor() {
    super('Requests', 'asked');
    this.fill = el('span', {class: 'fill'});
    this.track = this.add(el('p', {class: 'track countdown', 'aria-hidden': 'true'}, this.fill));
    this.who = this.add(el('ul', {class: 'who'}));
    this.then = this.line();
    this.closest = this.line('closest');
  }
  update(about, unit, state) {
    this.countdown(unit.watchdog);
    const lines = state.lines.filter((line) => about.lines.includes(line.name));
    const key = lines.map((line) => [line.name, line.state, line.time_share?.toFixed(2), line.masters.filter((m) => m.slave === unit.name).map((m) => [m.name, often(m.per_second)])]);
    refill(this.who, key, () => key.map((line) => this.one(line)));
  }
  one([name, line_state, share, masters]) {
    const asks = masters.map(([who, times]) => `${who}, ${times}`).join('; ') || 'nobody';
    const trouble = LINES[line_state];
    return el('li', trouble ? {'data-trouble': line_state} : {}, el('strong', {}, name), trouble ? el('em', {}, ` ${trouble}`) : null,
              el('span', {}, `: ${asks}`), share === undefined || share === null ? null : el('span', {class: 'small'}, ` (${percent(Number(share))} of its time)`));
  }
  countdown(dog) {
    const left = dog.left === null ? 0 : Math.max(0, dog.left);
    mark(this.node, 'kind', dog.lost ? 'off' : dog.armed && left < 0.34 * dog.timeout ? 'wait' : 'on');
    this.track.hidden = !dog.supervised;
    if (!dog.supervised) {
      this.main('no limit', 'of silence: nobody watches');
      this.then('A dead master goes unnoticed: it runs on at the last command for ever.');
    } else if (!dog.armed) {
      this.main(seconds(dog.timeout), 'watchdog, not started yet');
      this.then(`It starts with the first request; silence for longer: ${policy(dog.policy)}.`);
      stretch(this.fill, 1);
    } else if (dog.lost) {
      this.main(seconds(0), `left: it ran out ${seconds(Math.max(0, (dog.age ?? 0) - dog.timeout))} ago`);
      this.then(`No request for ${seconds(dog.age)}; ${seconds(dog.timeout)} were allowed, ${policy(dog.policy)}.`);
      stretch(this.fill, 0);
    } else {
      this.main(seconds(left), 'until the watchdog acts');
      this.then(dog.latched ? 'Requests have come again; that alone does not clear the latch.' : `${seconds(dog.timeout)} of silence are allowed, ${policy(dog.policy)}.`);
      stretch(this.fill, left / dog.timeout);
    }
    this.nearest(dog);
  }
  nearest(dog) {
    const gap = dog.longest_gap;
    if (!dog.supervised || !gap) this.closest('');
    else if (gap >= dog.timeout) this.closest(`Longest silence: ${seconds(gap)}`);
    else this.closest(`Closest call: ${seconds(dog.timeout - gap)} to spare`);
  }
}
