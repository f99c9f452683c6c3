// Who sees what: the class beside the trainer, in blind mode too; those who have a token and those who have none; and
// a page whose program goes away and comes back.
//
// usage: node visitors_test.js EMBERLINE CHROMIUM FOLDER-FOR-PICTURES
'use strict';

const fs = require('node:fs');
const net = require('node:net');
const path = require('node:path');
const {SIZES, Watched, check, equal, run, serve_file, shipped, stop} = require('./support.js');

async function blind_class({browser, served}) {
  await served.serve();
  served.poll();
  const trainer = await Watched.open(browser, served.url), room = await Watched.open(browser, `${served.url}class`);
  for (const page of [trainer, room]) await page.sees('#headline-text', /soak-heater heats/);
  equal(await room.page.locator('#drawer-button').isVisible(), false, 'the class sees the drawer');
  equal(await room.page.locator('#link-metrics').isVisible(), false, 'the class sees the metrics');

  await trainer.press("Trainer's drawer", '.top');
  await trainer.page.locator('#blind').focus();
  await trainer.page.keyboard.press('Space');
  await trainer.sees('.drawer .outcome', /class does not see the faults/);
  await trainer.press('Cut field', '#drawer');
  for (const page of [trainer, room]) await page.sees('#headline-text', /soak-heater is off, latched/);
  await trainer.sees('.who', /field cut/);
  await trainer.sees('#journal', /cable pulled/);
  // The symptom has come to the class's journal, so what came before it would be there.
  await room.sees('#journal', /comms lost/);
  for (const [selector, secret] of [['.who', /cut/], ['#journal', /cable/], ['body', /in force/i]]) {
    check(!secret.test(await room.text(selector)), `the class is told ${secret} in ${selector}`);
  }
  await room.both_looks('class-blind');

  // What is done by hand, and over in a moment, leaves no trace of the hand.
  await trainer.press('Undo cut field', '#drawer');
  for (const what of ['cycle soak-heater.terminal.enable', 'cut field for 1 s', 'power_off soak-heater for 1 s']) {
    const done = await fetch(`${served.url}api/actions`, {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({do: what})});
    equal(done.status, 200, what);
  }
  await trainer.sees('#journal', /control supply|unpowered/);
  await room.sees('#headline-text', /no control supply/);
  await trainer.sees('#journal', /cable plugged in|plugged/);
  for (const secret of [/by hand/, /cable/, /wire/, /terminal .*(opened|released) by/, /action/]) {
    check(!secret.test(await room.text('#journal')), `the class's journal tells ${secret}: ${await room.text('#journal')}`);
  }
  equal(await room.page.locator('.by-action').count(), 0, "entries by hand in the class's journal");
  await trainer.close();
  await room.close();

  const told = await fetch(`${served.url}api/actions?view=class`, {method: 'POST', headers: {'Content-Type': 'application/json'}, body: '{"do":"restore field"}'});
  equal(told.status, 403, 'what the class is told that wants to act');
}

async function tokens({browser, served, folder}) {
  const token = 'lehr-trainer-0123456789', file = path.join(folder, 'tokens');
  fs.writeFileSync(file, `${token}\nlehr-class-0123456789\n`, {mode: 0o600});
  await served.serve('127.0.0.1:0', '--panel-token', file);
  served.poll();
  const page = await Watched.open(browser, served.url);
  await page.sees('#sign-in h2', /asks for a token/);
  await page.both_looks('sign-in');
  await page.page.keyboard.type('not-the-right-token');
  await page.page.keyboard.press('Enter');
  await page.sees('#sign-in-says', /\w/);
  equal(await page.page.locator('#token').getAttribute('aria-invalid'), 'true', 'the token that was refused');
  page.complaints = page.complaints.filter((text) => !/status of 40[13]/.test(text)); // of the browser, about the refusal
  await page.page.locator('#token').fill(token);
  await page.page.keyboard.press('Enter');
  await page.sees('#headline-text', /soak-heater/);
  equal(await page.page.locator('#drawer-button').isVisible(), true, 'the trainer has the drawer');
  check(!page.page.url().includes(token), 'the token stands in the address');
  await page.close();
}

/// A port nobody listens at. A program that names its port may open it again at once, one that was given it may not.
async function free_port() {
  const listener = net.createServer();
  await new Promise((ready) => listener.listen(0, '127.0.0.1', ready));
  const {port} = listener.address();
  await new Promise((closed) => listener.close(closed));
  return port;
}

async function program_goes({browser, served}) {
  const place = `127.0.0.1:${await free_port()}`;
  await served.serve(place);
  const page = await Watched.open(browser, served.url);
  await page.sees('#headline-text', /soak-heater is off, stopped/);
  await page.sees('#steps li[data-place="next"]', /enable/);
  await page.both_looks('stopped');
  await stop(served.program);
  await page.sees('#lost', /connection to the program is lost.*from \d+:\d\d:\d\d/);
  await page.judge('connection lost');
  await page.picture('connection-lost');
  await served.serve(place);
  await page.until(() => document.getElementById('lost').hidden);
  await page.sees('#connection-word', /^live$/);
  page.complaints = page.complaints.filter((text) => !/WebSocket connection|Failed to load resource: net::ERR/.test(text)); // nobody was there
  await page.close();
}

async function looks({browser, served}) {
  await served.serve();
  const page = await Watched.open(browser, served.url, {colorScheme: 'dark'});
  await page.sees('#headline-text', /soak-heater/);
  const ground = () => page.page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const dark = await ground();
  await page.page.locator('#theme').selectOption('light');
  const light = await ground();
  check(light !== dark, 'the switch changes nothing');
  await page.page.reload();
  await page.sees('#headline-text', /soak-heater/);
  equal(await ground(), light, 'the look after the page was loaded anew');
  await page.page.locator('#units .unit', {hasText: 'drying-heater'}).focus();
  await page.page.keyboard.press('Enter');
  await page.sees('#headline-text', /drying-heater/);
  await page.page.locator('#trend-choice').selectOption('temperatures of all zones');
  await page.sees('#trend-table', /drying\.measured\s+\d+.°C/);
  await page.judge('another unit, another trend');
  await page.close();
}

/// A thyristor that conducts with no command, and no trip yet: said first, with the only way to end it.
async function without_command({browser, served}) {
  await served.serve();
  served.poll();
  const page = await Watched.open(browser, served.url);
  await page.sees('#headline-text', /soak-heater heats/);
  await page.press("Trainer's drawer", '.top');
  await page.press('Thyristor shorted of soak-heater', '#drawer');
  await page.press('Hold enable open of soak-heater', '#drawer');
  await page.sees('#headline-text', /soak-heater conducts without command: \d+\.\d.A flow/);
  await page.sees('#steps li[data-place="next"]', /Open the contactor main: only that stops it/);
  await page.sees('.leak', /no longer blocks/);
  equal(await page.page.locator('#down').isVisible(), false, 'heat is said to be away');
  await page.both_looks('without-command');
  await page.press('Open main', '#drawer');
  await page.until(() => !/conducts/.test(document.getElementById('headline-text').textContent));
  await page.press('Control supply off of soak-heater', '#drawer');
  await page.sees('#headline-text', /soak-heater has no control supply/);
  check(!/\b(dead|dark)\b/i.test(await page.text('#headline-box')), 'a unit without control supply is called voltage-free');
  await page.close();
}

/// While the drawer is open it acts on the unit it was opened on, whatever happens elsewhere.
async function drawer_keeps({browser, served}) {
  await served.serve();
  served.poll();
  const page = await Watched.open(browser, served.url);
  await page.sees('#headline-text', /soak-heater heats/);
  await page.press("Trainer's drawer", '.top');
  await page.sees('.acts-on', /^Acts on soak-heater$/);
  const done = await fetch(`${served.url}api/actions`, {method: 'POST', headers: {'Content-Type': 'application/json'}, body: '{"do":"power_off cooling-heater"}'});
  equal(done.status, 200, 'power_off');
  await page.sees('#units', /cooling-heater\s+unpowered/);
  await page.sees('.acts-on', /^Acts on soak-heater$/);
  await page.page.locator('#time').click(); // away from the drawer
  await page.page.keyboard.press('Escape');
  equal(await page.page.locator('#drawer').isVisible(), false, 'the drawer after Escape');
  await page.sees('#headline-text', /cooling-heater has no control supply/);
  await page.close();
}

async function sizes({browser, served}) {
  await served.serve();
  for (const [name, options] of [['forced-colours', {forcedColors: 'active'}], ['more-contrast', {contrast: 'more'}], ['projector', {viewport: SIZES.projector}]]) {
    const page = await Watched.open(browser, served.url, options);
    await page.sees('#headline-text', /soak-heater/);
    await page.judge(name);
    await page.picture(name);
    await page.close();
  }
}

/// The shipped lehr's cooling heater, twelve of them: those in trouble are told apart.
function twelve_units() {
  const [head, tail] = shipped('tunnel-dryer').split(/^io_blocks:\n/m), [before, unit] = head.split(/^  front-heater:.*\n/m);
  const body = unit.split(/^  rear-heater:/m)[0];
  const units = Array.from({length: 12}, (_, at) => `  heater-${at + 1}:\n${body.replace('id: 5', `id: ${at + 1}`)}`).join('');
  check(tail !== undefined && /heats: front/.test(body), 'the shipped dryer looks otherwise now');
  return `${before.replace(/^contactors:.*\n/m, '')}${units}`;
}
async function many({browser, folder}) {
  const url = await serve_file(folder, twelve_units()), page = await Watched.open(browser, url);
  await page.sees('#units', /heater-12/);
  equal(await page.page.locator('#units .unit').count(), 12, 'units');
  const done = await fetch(`${url}api/actions`, {method: 'POST', headers: {'Content-Type': 'application/json'}, body: '{"do":"power_off heater-7"}'});
  equal(done.status, 200, 'power_off');
  await page.sees('#headline-text', /heater-7 has no control supply/);
  await page.both_looks('twelve-units');
  await page.page.setViewportSize(SIZES.phone);
  await page.judge('twelve units on a phone');
  await page.picture('twelve-units-phone');
  await page.close();
}

/// A bench that models no zone does not show a temperature of one.
async function no_zone({browser, folder}) {
  const page = await Watched.open(browser, await serve_file(folder, shipped('resistor-bank')));
  await page.sees('.heat', /not modelled/);
  equal(await page.page.locator('.heat .figure').isVisible(), false, 'a figure for what is not modelled');
  await page.judge('a unit without a zone');
  await page.picture('no-zone');
  await page.close();
}

run({
  'current without command is said first, with what ends it': without_command,
  'an open drawer keeps to its unit, and Escape closes it from anywhere': drawer_keeps,
  'forced colours, more contrast and a projector are served as well': sizes,
  'twelve units fit, and the one in trouble says why': many,
  'a unit that heats no zone shows no temperature': no_zone,
  'the class sees symptoms in blind mode, and no faults': blind_class,
  'nobody comes in without the token, which stands in no address': tokens,
  'a page says that its program has gone, and finds it again': program_goes,
  'a look is kept, and any unit and trend can be chosen': looks,
});
