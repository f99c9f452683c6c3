/// The page: who may see it, what the bench is, and from then on what the program says ten times a second.
import {byId, el, mark, refill, say, show} from '/dom.js';
import {address, ask, AS_CLASS, Live, Refused, tell} from '/talk.js';
import {clock, Conduction} from '/words.js';
import {Drawer} from '/drawer.js';
import {Journal, Traffic} from '/records.js';
import {Lesson} from '/lesson.js';
import {Story} from '/story.js';
import {Trend} from '/trend.js';
import {Units} from '/units.js';

const RATE = 10;

class Page {
  constructor() {
    this.units = new Units(() => this.wish(), () => this.drawer.busy());
    this.conduction = new Conduction();
    this.story = new Story();
    this.trend = new Trend();
    this.journal = new Journal();
    this.traffic = new Traffic();
    this.drawer = new Drawer();
    this.lesson = new Lesson({look_at: (names) => this.look_at(names), starts_over: () => (this.bench = null)});
    this.live = new Live({message: (said) => this.heard(said), opened: () => this.opened(), lost: (wait) => this.lost(wait)});
    // What stands above the columns at the sides, so that they end where the screen does.
    const above = () => document.documentElement.style.setProperty('--above', `${Math.max(0, byId('page').getBoundingClientRect().top)}px`);
    addEventListener('scroll', above, {passive: true});
    new ResizeObserver(above).observe(document.body);
    document.addEventListener('visibilitychange', () => this.live.want({rate: document.hidden ? 0.5 : RATE}));
  }
  async start() {
    const session = await this.session();
    if (!session) return;
    this.trainer = session.role === 'trainer' && !AS_CLASS;
    show(byId('link-metrics').parentElement, this.trainer);
    show(byId('link-class').parentElement, this.trainer);
    byId('link-capture').href = address('/api/capture.pcapng');
    byId('link-trend').href = address('/api/trend.csv', {seconds: '300'});
    this.live.start();
  }
  /// Who we are; null while somebody has still to sign in.
  async session() {
    for (;;) {
      try {
        const session = await ask('/api/session');
        if (session.role) return session;
        this.sign_in();
        return null;
      } catch (refusal) {
        if (refusal instanceof Refused && (refusal.status === 401 || refusal.status === 403)) {
          this.sign_in();
          return null;
        }
        this.trouble('The program does not answer. This page tries again by itself.');
        await new Promise((next) => setTimeout(next, 1000));
      }
    }
  }
  sign_in() {
    show(byId('asking'), false);
    show(byId('sign-in'), true);
    show(byId('page'), false);
    if (AS_CLASS) say(byId('sign-in-for'), 'Type the token you were given. It goes to this program only, and is not kept by the page.');
    say(byId('connection-word'), 'not signed in');
    byId('token').focus();
    byId('sign-in-form').onsubmit = async (event) => {
      event.preventDefault();
      try {
        await tell('/api/session', {token: byId('token').value});
        byId('token').value = '';
        location.reload();
      } catch (refusal) {
        say(byId('sign-in-says'), refusal.message);
        byId('token').setAttribute('aria-invalid', 'true');
        byId('token').select();
      }
    };
  }
  /// The live connection stands: everything is asked anew, since another program may answer now.
  opened() {
    this.lesson.forget();
    this.await_bench();
  }
  /// A bench is there when its first state comes; asking before would be refused.
  await_bench() {
    this.bench = null;
    this.awaits = true;
    this.live.only({rate: RATE, state: true, lesson: true, signals: []});
  }
  async meet_again() {
    this.awaits = false;
    try {
      await this.meet(await ask('/api/bench'));
    } catch (refusal) {
      if (refusal instanceof Refused && refusal.status === 401) return location.reload();
      if (refusal.status !== 503) this.trouble(`What the bench is could not be asked: ${refusal.message}. This page tries again by itself.`);
      setTimeout(() => (this.awaits = true), 1000);
    }
  }
  async meet(bench) {
    this.about = new Map(bench.units.map((unit) => [unit.name, unit]));
    document.title = `${bench.title} - Emberline`;
    say(byId('title'), bench.title);
    say(byId('version'), `Emberline ${bench.version}. A simulation.`);
    refill(byId('cautions'), bench.cautions, () => bench.cautions.map((text) => el('li', {}, text)));
    this.forget();
    this.trend.about(bench);
    if (this.trainer) this.drawer.about(bench);
    await this.traffic.before();
    if (this.awaits) return; // yet another run has begun meanwhile
    this.bench = bench;
    show(byId('asking'), false);
    show(byId('page'), true);
    show(byId('lost'), false);
    mark(byId('connection'), 'live', 'yes');
    say(byId('connection-word'), 'live');
    document.body.classList.remove('stale');
    this.live.want({rate: document.hidden ? 0.5 : RATE, state: true, journal_after: 0, traffic: true, lesson: true});
    this.lesson.about(bench);
    this.watch_signals();
  }
  forget() {
    this.journal.clear();
    this.traffic.clear();
    this.units.forget();
    this.trend.forget();
    this.conduction.forget();
    this.state = null;
  }
  lost(wait) {
    this.bench = null;
    mark(byId('connection'), 'live', 'no');
    say(byId('connection-word'), 'connection lost');
    document.body.classList.add('stale');
    const from = this.state ? ` What is shown is from ${clock(this.state.at)}.` : '';
    // Another program may answer by now, one that knows nothing of who we were.
    ask('/api/session').then((session) => !session.role && location.reload(), () => {});
    this.trouble(`The connection to the program is lost.${from} It is tried again ${wait < 1 ? 'at once' : `every ${Math.round(wait)} s`}.`);
  }
  trouble(text) {
    show(byId('lost'), true);
    say(byId('lost'), text);
  }
  heard(said) {
    if (said.type === 'lesson') this.lesson.update(said); // told once, so also while the bench is asked for
    else if (said.type === 'restarted') this.await_bench();
    else if (said.type === 'state' && this.awaits) this.meet_again();
    else if (!this.bench) return;
    else if (said.type === 'state') this.see(said);
    else if (said.type === 'values') this.lesson.values(said.values);
    else if (said.type === 'journal') this.journal.add(said.entries);
    else if (said.type === 'traffic') this.traffic.add(said.frames);
  }
  /// A state has come; it is drawn with the browser's next picture, and only the newest.
  see(state) {
    const waits = this.fresh;
    this.fresh = state;
    this.slow();
    if (!waits) requestAnimationFrame(() => this.draw());
  }
  draw() {
    const state = this.fresh;
    this.fresh = null;
    if (!state || !this.bench) return;
    this.state = state;
    say(byId('time'), clock(state.at));
    say(byId('speed'), state.plant_speed === 1 ? '' : `, zones ${state.plant_speed} times as fast`);
    const flows = new Map(state.units.map((one) => [one.name, this.conduction.uncommanded(this.about.get(one.name), one, state.at)]));
    this.units.update(state.units, flows, state.at);
    const unit = state.units.find((one) => one.name === this.units.name), about = this.about.get(this.units.name);
    if (unit && about) {
      this.story.update(about, unit, state, flows.get(unit.name), this.journal.latest.get(unit.name));
      this.trend.of(about);
      if (this.trainer) this.drawer.update(about, state);
    }
    this.lesson.recovery(state.recovery, [...flows.values()].some((flow) => flow !== null));
  }
  /// A lesson speaks of signals: their unit is shown, unless the trainer has chosen one, and their values are told.
  look_at(names) {
    this.looked_at = names;
    this.watch_signals();
  }
  watch_signals() {
    if (!this.bench || !this.looked_at) return;
    const names = this.looked_at.filter((name) => this.trend.signals.has(name));
    const unit = names.map((name) => name.split('.')[0]).find((name) => this.about.has(name));
    if (unit) this.units.leads(unit, AS_CLASS);
    this.live.want({signals: names});
  }
  wish() {
    if (this.state) this.see(this.state);
  }
  /// What need not be as quick as the state. Asked only when a state has just come, so that a bench is there.
  slow() {
    const now = performance.now();
    if (!this.bench || document.hidden || !this.units.name || now - (this.slow_at ?? 0) < 500) return;
    this.slow_at = now;
    this.story.stages[3].cycle.refresh(this.units.name);
    this.turn = !this.turn;
    if (this.turn) this.trend.refresh();
  }
}

new Page().start();
