/// A lesson: what to know, what do you expect, what then happened. The class's page shows the same without controls.
import {byId, el, refill, say, show} from '/dom.js';
import {ask, AS_CLASS, tell} from '/talk.js';
import {clock, seconds, signalName, signalValue} from '/words.js';

const paragraphs = (text) => (text || '').split(/\n\s*\n/).filter(Boolean).map((one) => el('p', {}, one));

export class Lesson {
  /// look_at: told which signals to look at; starts_over: told that the bench goes away for a moment.
  constructor({look_at, starts_over}) {
    Object.assign(this, {look_at, starts_over, looks: [], signals: new Map(), present: {}});
    this.node = byId('lesson');
    this.body = el('div', {class: 'lesson-body'});
    this.foot = el('div', {class: 'lesson-foot'});
    this.node.replaceChildren(this.body, this.foot);
    this.live = el('dl', {class: 'facts look-at'});
    this.live_box = el('div', {class: 'look-at-box'}, el('h4', {}, 'Look at'), this.live);
    this.version = null;
    this.there = false;
  }
  /// Another program may answer now: a lesson is there when the live connection tells of one.
  forget() {
    this.there = false;
    this.version = null;
    this.looks = [];
    this.look_at([]);
    show(this.node, false);
    document.documentElement.classList.remove('with-lesson');
  }
  /// What the bench says of its signals.
  about(bench) {
    this.signals = new Map(bench.signals.map((signal) => [signal.name, signal]));
    this.present = {};
    this.look();
  }
  values(values) {
    this.present = values;
    this.look();
  }
  /// The signals of the step with what they are now; the order and names are the lesson's.
  look() {
    const known = this.looks.filter((name) => this.signals.has(name));
    show(this.live_box, known.length > 0);
    refill(this.live, known, () => known.map((name) => {
      const {of, what} = signalName(name);
      return el('div', {}, el('dt', {}, `${of} `, el('span', {class: 'looked'}, what)), el('dd', {'data-signal': name}));
    }));
    for (const cell of this.live.querySelectorAll('dd')) say(cell, signalValue(this.present[cell.dataset.signal], this.signals.get(cell.dataset.signal)));
  }
  async go(what) {
    try {
      if (what.go === 'restart') this.starts_over();
      const answer = await tell('/api/lesson', what);
      if (answer?.step || answer?.done) this.update(answer);
      else this.update(await ask('/api/lesson'));
    } catch (refusal) {
      this.says.textContent = refusal.message;
    }
  }
  update(lesson) {
    this.there = true;
    show(this.node, true);
    document.documentElement.classList.add('with-lesson');
    // The answer to what was pressed can come behind what the live connection tells of its effect.
    if (this.version !== null && lesson.version <= this.version) return;
    const was = this.version === null ? null : this.step_key;
    this.version = lesson.version;
    this.looks = lesson.step?.look_at || [];
    this.look_at(this.looks);
    this.look();
    const place = lesson.place, told = lesson.step?.phase === 'told';
    this.step_key = `${lesson.place} ${lesson.step?.phase} ${lesson.done}`;
    const had_focus = this.node.contains(document.activeElement);
    const chosen = this.node.querySelector('input:checked')?.value;
    this.says = el('p', {class: 'outcome', role: 'status'});
    this.body.replaceChildren(...this.head(lesson), ...(lesson.step ? this.step(lesson.step) : []), ...this.tail(lesson));
    const next = lesson.step?.button && !AS_CLASS ? el('button', {type: 'button', class: 'go-on', onclick: () => this.go({go: 'next'})}, lesson.step.button) : null;
    this.foot.replaceChildren(this.says, ...(next ? [next] : []));
    if (this.place !== place) this.body.scrollTop = 0;
    else if (told && was !== this.step_key) this.body.querySelector('.because')?.scrollIntoView({block: 'nearest'});
    this.place = place;
    if (was === this.step_key && chosen) this.node.querySelector(`input[value="${chosen}"]`)?.click();
    if (had_focus) (this.node.querySelector('.go-on, input') || this.node.querySelector('h2')).focus({preventScroll: true});
  }
  head(lesson) {
    const track = el('progress', {max: String(lesson.of), value: String(lesson.place), 'aria-label': 'How far the lesson is'});
    return [el('p', {class: 'small lesson-place'}, lesson.done ? 'Lesson, at its end ' : `Lesson, step ${lesson.place} of ${lesson.of} `, track),
            el('h2', {id: 'lesson-title', tabindex: '-1'}, lesson.title || 'Blind mode'),
            ...(lesson.place <= 1 && !lesson.done && lesson.why ? [el('p', {class: 'small'}, lesson.why)] : [])];
  }
  step(step) {
    const parts = step.title || step.say ? [el('h3', {}, step.title || 'This step'), ...paragraphs(step.say)] : [el('h3', {}, 'Blind mode: watch the unit')];
    parts.push(this.live_box);
    if (step.ask) parts.push(this.question(step));
    if (step.watching) parts.push(el('p', {class: 'watching', role: 'status'}, el('strong', {}, 'Watching'), ` ${step.watching}`));
    if (step.phase === 'told' && step.ask) parts.push(...this.told(step.ask));
    if (step.happened?.length) parts.push(...this.happened(step.happened));
    return parts;
  }
  question(step) {
    const {question, answers, chosen, right} = step.ask, open = step.phase === 'predict' && chosen === null && !AS_CLASS;
    if (!open) {
      const items = answers.map((answer, at) => {
        const ours = chosen === at + 1, came = right === at + 1, mark = ours && came ? 'our prediction, and right' : ours ? 'our prediction' : came ? 'what happens' : null;
        return el('li', mark ? {'data-mark': came ? 'right' : 'chosen'} : {}, answer, mark ? el('em', {}, ` (${mark})`) : null);
      });
      return el('div', {class: 'question'}, el('p', {class: 'ask'}, question), el('ol', {type: 'A'}, ...items));
    }
    const choices = answers.map((answer, at) => el('label', {class: 'answer'}, el('input', {type: 'radio', name: 'answer', value: String(at + 1), required: true}), ` ${answer}`));
    return el('form', {class: 'question', onsubmit: (event) => {
      event.preventDefault();
      this.go({go: 'predict', answer: Number(new FormData(event.target).get('answer'))});
    }}, el('fieldset', {}, el('legend', {class: 'ask'}, question), ...choices), el('button', {type: 'submit'}, 'That is our prediction'));
  }
  told({chosen, right, because}) {
    const verdict = chosen === null || right === null ? '' : chosen === right ? 'Predicted rightly.' : 'It came otherwise.';
    return [el('p', {class: 'because'}, el('strong', {}, verdict), ' ', because || '')];
  }
  happened(entries) {
    return [el('h4', {}, 'What happened'), el('ol', {class: 'happened'}, ...entries.slice(-12).map((one) => el('li', {}, el('time', {}, clock(one.at, true)), ' ', el('strong', {}, one.subject), ` ${one.sentence}`)))];
  }
  verdict(lesson) {
    if (!lesson.verdict) return [];
    const outcomes = lesson.verdict.outcomes.map((one) => el('li', {}, el('strong', {}, one.result), ` ${one.name}: ${one.sentence}`));
    const passed = lesson.verdict.outcomes.filter((one) => one.result === 'passed').length;
    const summary = `${{ true: 'The rehearsal passed', false: 'The rehearsal failed', null: 'As it went, at your pace' }[lesson.verdict.passed]}: ${passed} of ${outcomes.length} expectations met`;
    if (!outcomes.length) return []; // hidden from a blind class
    return [el('details', {class: 'verdict'}, el('summary', {}, summary), el('ul', {}, ...outcomes))];
  }
  tail(lesson) {
    const {right, asked} = lesson.score || {right: 0, asked: 0};
    const parts = [el('p', {class: 'score', id: 'lesson-score'}, asked ? `Predicted rightly: ${right} of ${asked}` : 'No prediction yet')];
    this.time = el('p', {class: 'small'});
    parts.push(this.time);
    if (lesson.done && lesson.past?.length) {
      const bare = (text) => (text || '').replace(/\.$/, '');
      parts.push(el('ol', {class: 'past'}, ...lesson.past.filter((one) => one.question).map((one) => el('li', {}, one.question, ' ',
        one.chosen !== null && one.chosen === one.right ? el('span', {}, `You said: ${bare(one.chosen_text)}; `, el('strong', {}, 'and so it was.'))
          : el('span', {}, `You said: ${bare(one.chosen_text) || 'nothing'}; it was: ${bare(one.right_text) || 'not told'}.`)))));
    }
    parts.push(...this.verdict(lesson));
    if (!AS_CLASS) parts.push(el('button', {type: 'button', class: 'again', onclick: () => this.go({go: 'restart'})}, 'Start over'));
    return parts;
  }
  /// Time to recover, from the state of the bench.
  recovery(took, flows) {
    if (!this.there || !this.time) return;
    const text = !took || took.lost_at === null ? '' : took.back_at === null ? (flows ? '' : `Heat away for ${seconds(took.seconds)}`) : `Time to recover: ${took.seconds.toFixed(1)} s`;
    if (this.time.textContent !== text) this.time.textContent = text;
  }
}
