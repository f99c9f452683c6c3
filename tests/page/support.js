// A bench that is served, a program that polls it by libmodbus, and a browser that looks at its page.
//
// NODE_PATH says where playwright-core and axe-core are; tests/setup.sh installs them and Chromium.
'use strict';

const {spawn, spawnSync} = require('node:child_process');
const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');

let chromium, axe_source;
try {
  ({chromium} = require('playwright-core'));
  axe_source = require('axe-core').source;
} catch (missing) {
  console.log(`playwright-core and axe-core cannot be used (${missing.code}): tests/setup.sh installs them`);
  process.exit(3);
}

const ROOT = path.resolve(__dirname, '../..');
const PATIENCE_MS = 90000; // only what hangs waits so long
const LOOKS_EVERY_MS = 100; // once a frame, which is the default, takes as much of a processor as the page itself
const SIZES = {laptop: {width: 1280, height: 800}, phone: {width: 360, height: 740}, projector: {width: 1920, height: 1080}};

const [emberline, browser_path, artefacts] = process.argv.slice(2);

function check(holds, what) {
  if (!holds) throw new Error(what);
}
function equal(found, wanted, what) {
  check(JSON.stringify(found) === JSON.stringify(wanted), `${what}: found ${JSON.stringify(found)}, expected ${JSON.stringify(wanted)}`);
}

/// Waits for a condition outside the browser, such as a file that a program writes.
async function until(what, condition) {
  const end = Date.now() + PATIENCE_MS;
  for (;;) {
    const found = await condition();
    if (found) return found;
    if (Date.now() > end) throw new Error(`waited in vain for ${what}`);
    await new Promise((next) => setTimeout(next, 20));
  }
}

/// Programs this test started; they end with it.
const running = new Set();
let started = []; // by the present test
function start(args) {
  const log = [], child = spawn(emberline, args, {stdio: ['ignore', 'pipe', 'pipe']});
  running.add(child);
  started.push(child);
  child.stdout.on('data', (text) => log.push(text));
  child.stderr.on('data', (text) => log.push(text));
  child.log = () => Buffer.concat(log).toString();
  child.ended = new Promise((done) => child.on('exit', (code) => {
    running.delete(child);
    done(code);
  }));
  return child;
}
async function stop(child) {
  child.kill('SIGTERM');
  await child.ended;
}

/// A bench file of a test's own, served with a panel; gives the panel's address.
async function serve_file(folder, text) {
  const bench = path.join(folder, 'bench.yaml'), ready = path.join(folder, 'ready.json');
  fs.writeFileSync(bench, text.replaceAll('../registers/', `${ROOT}/config/registers/`).replaceAll(/pty: \S+\//g, `pty: ${folder}/`).replaceAll(/tcp: [\d.]+:\d+/g, 'tcp: 127.0.0.1:0'));
  const program = start(['serve', bench, '--control', path.join(folder, 'control'), '--ready-file', ready, '--panel', '127.0.0.1:0']);
  return (await until('the ready file', () => {
    check(program.exitCode === null, `emberline serve has ended:\n${program.log()}`);
    return fs.existsSync(ready) && JSON.parse(fs.readFileSync(ready, 'utf8'));
  })).panel;
}
const shipped = (name) => fs.readFileSync(path.join(ROOT, 'config/benches', `${name}.yaml`), 'utf8');

/// The shipped lehr on lines of this test's own, patient with a busy machine, served with a panel.
class Served {
  constructor(folder) {
    this.folder = folder;
    this.bench = path.join(folder, 'bench.yaml');
    this.ready = path.join(folder, 'ready.json');
    this.control = path.join(folder, 'control');
    this.text = shipped('annealing-lehr').replaceAll('../registers/', `${ROOT}/config/registers/`).replace('/tmp/emberline/field', path.join(folder, 'field'))
      .replace('timeout: 3 s, policy: latch-to-inhibit', 'timeout: 6 s, policy: latch-to-inhibit');
    fs.writeFileSync(this.bench, this.text.replace('127.0.0.1:1502', '127.0.0.1:0'));
  }
  async serve(panel = '127.0.0.1:0', ...more) {
    fs.rmSync(this.ready, {force: true});
    this.program = start(['serve', this.bench, '--control', this.control, '--ready-file', this.ready, '--panel', panel, ...more]);
    const ready = await until('the ready file', () => {
      check(this.program.exitCode === null, `emberline serve has ended:\n${this.program.log()}`);
      return fs.existsSync(this.ready) && JSON.parse(fs.readFileSync(this.ready, 'utf8'));
    });
    this.url = ready.panel;
    const tcp = `${ready.lines.ethernet.host}:${ready.lines.ethernet.port}`;
    this.for_masters = path.join(this.folder, 'bench-as-served.yaml');
    fs.writeFileSync(this.for_masters, this.text.replace('127.0.0.1:1502', tcp));
    return this;
  }
  /// A program in the PLC's place: closes contactor and enable terminal, and asks for half power again and again.
  poll() {
    const write = (...args) => start(['write', '--bench', this.for_masters, ...args]);
    this.masters = [write('ethernet', 'marshalling', 'coil.0=on', 'coil.8=on', '--every', '1 s'),
                    write('field', 'soak-heater', 'setpoint=50 %', '--every', '500 ms')];
  }
  /// What a master reads from the registers, over the line that feeds no watchdog; the figure and its unit.
  read(point) {
    const told = spawnSync(emberline, ['read', '--bench', this.for_masters, 'ethernet', 'soak-heater', point], {encoding: 'utf8'});
    const value = told.stdout.match(/(-?\d+(?:\.\d+)?)\s*(kW|W|A|degC|%)/);
    check(value, `cannot read ${point}: ${told.stdout}${told.stderr}`);
    return Number(value[1]) * (value[2] === 'kW' ? 1000 : 1);
  }
}

/// A page that is watched: its complaints, and where it asks.
class Watched {
  static async open(browser, url, options) {
    const context = await browser.newContext({viewport: SIZES.laptop, colorScheme: 'light', reducedMotion: 'reduce', ...options});
    context.setDefaultTimeout(PATIENCE_MS);
    const watched = new Watched();
    Object.assign(watched, {context, complaints: [], foreign: [], origin: new URL(url).host, axe_runs: 0, page: await context.newPage()});
    const {page} = watched;
    page.on('console', (line) => ['error', 'warning'].includes(line.type()) && watched.complaints.push(line.text()));
    page.on('pageerror', (error) => watched.complaints.push(error.message));
    const seen = (address) => new URL(address).host === watched.origin || watched.foreign.push(address);
    page.on('request', (request) => seen(request.url()));
    page.on('websocket', (socket) => seen(socket.url()));
    await page.goto(url);
    return watched;
  }
  text(selector) { return this.page.locator(selector).innerText(); }
  /// Waits until a function that runs in the page gives true.
  until(holds, given) { return this.page.waitForFunction(holds, given, {polling: LOOKS_EVERY_MS}); }
  /// Waits until the text of an element matches.
  async sees(selector, pattern) {
    const wanted = {selector, source: pattern.source, flags: pattern.flags};
    try {
      await this.until(({selector, source, flags}) => [...document.querySelectorAll(selector)].some((node) => new RegExp(source, flags).test(node.innerText)), wanted);
    } catch (in_vain) {
      throw new Error(`waited in vain for ${pattern} in ${selector}, which says: ${(await this.page.locator(selector).allInnerTexts()).join(' | ').slice(0, 600)}`);
    }
  }
  /// Tab, and only Tab, to a control by its name; it must show that it has the focus.
  async tab_to(name, within = 'body', begins = false) {
    for (let steps = 0; steps < 400; steps += 1) {
      const at = await this.page.evaluate((within) => {
        const node = document.activeElement, style = getComputedStyle(node);
        return {name: (node.getAttribute('aria-label') || (node.matches('input, select') && node.labels?.[0]?.innerText) || node.innerText || node.value || '').trim().replace(/\s+/g, ' '), inside: Boolean(node.closest(within)),
                outline: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2};
      }, within);
      if (at.inside && (begins ? at.name.startsWith(name) : at.name === name)) return check(at.outline, `the focus on "${name}" cannot be seen`);
      await this.page.keyboard.press('Tab');
    }
    throw new Error(`"${name}" cannot be reached by the keyboard`);
  }
  /// The choice of a list by its keys: its first letters.
  async pick(name, option, within) {
    await this.tab_to(name, within, true);
    await this.page.keyboard.type(option);
  }
  async press(name, within) {
    await this.tab_to(name, within);
    await this.page.keyboard.press('Enter');
  }
  /// No fault of accessibility that axe calls serious or critical, and nothing wider than the screen.
  async judge(state) {
    this.axe_runs += 1;
    if (!await this.page.evaluate(() => Boolean(window.axe))) await this.page.evaluate(axe_source);
    const {violations} = await this.page.evaluate(() => window.axe.run({resultTypes: ['violations']}));
    const bad = violations.filter((one) => ['serious', 'critical'].includes(one.impact));
    check(bad.length === 0, `${state}: ${bad.map((one) => `${one.id}: ${one.nodes.map((node) => `${node.html.slice(0, 120)} ${node.failureSummary}`).join('; ')}`).join('\n')}`);
    const wide = await this.page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    equal(wide, 0, `${state}: pixels beyond the edge of the screen`);
  }
  async picture(name) {
    await this.page.evaluate(() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn))));
    await this.page.screenshot({path: path.join(artefacts, `${name}.png`)});
  }
  /// In both looks: judged, and kept as a picture.
  async both_looks(name) {
    for (const look of ['light', 'dark']) {
      await this.page.emulateMedia({colorScheme: look});
      await this.judge(`${name}, ${look}`);
      await this.picture(`${name}-${look}`);
    }
    await this.page.emulateMedia({colorScheme: 'light'});
  }
  async close() {
    equal(this.complaints, [], 'what the browser complains of');
    equal(this.foreign, [], 'requests to elsewhere');
    await this.context.close();
  }
}

/// Runs tests one after the other, each with a bench of its own, and says how they went.
async function run(tests) {
  fs.mkdirSync(artefacts, {recursive: true});
  const browser = await chromium.launch({executablePath: browser_path, args: process.getuid() === 0 ? ['--no-sandbox'] : []});
  let failed = 0;
  for (const [name, test] of Object.entries(tests)) {
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'emberline-page-'));
    started = [];
    try {
      await test({browser, served: new Served(folder), folder});
      console.log(`passed: ${name}`);
    } catch (error) {
      failed += 1;
      console.log(`FAILED: ${name}\n  ${error.message}`);
      for (const child of started) console.log(`--- ${child.spawnargs.slice(1, 3).join(' ')}, exit ${child.exitCode ?? child.signalCode ?? 'not yet'}:\n${child.log().slice(-1500)}`);
    } finally {
      await Promise.all([...running].map(stop));
      for (const context of browser.contexts()) await context.close();
      fs.rmSync(folder, {recursive: true, force: true});
    }
  }
  await browser.close();
  process.exitCode = failed ? 1 : 0;
}

module.exports = {SIZES, Watched, check, equal, run, serve_file, shipped, start, stop, until};
