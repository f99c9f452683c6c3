// Who sees what: the class beside the trainer, in blind mode too; those who have a token and those who have none; and
// a page whose program goes away and comes back.
//
// usage: node visitors_test.js EMBERLINE CHROMIUM FOLDER-FOR-PICTURES
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const {Watched, check, equal, run, stop} = require('./support.js');

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
  page.complaints = page.complaints.filter((text) => !/status of 40[13]/.test(text)); // of the browser, about the refusal
  await page.page.locator('#token').fill(token);
  await page.page.keyboard.press('Enter');
  await page.sees('#headline-text', /soak-heater/);
  equal(await page.page.locator('#drawer-button').isVisible(), true, 'the trainer has the drawer');
  check(!page.page.url().includes(token), 'the token stands in the address');
  await page.close();
}

async function program_goes({browser, served}) {
  await served.serve();
  const page = await Watched.open(browser, served.url);
  await page.sees('#headline-text', /soak-heater is off, stopped/);
  await page.sees('#steps li[data-place="next"]', /enable/);
  await page.both_looks('stopped');
  const place = new URL(served.url).host;
  await stop(served.program);
  await page.sees('#lost', /connection to the program is lost.*from \d+:\d\d:\d\d/);
  await page.judge('connection lost');
  await page.picture('connection-lost');
  await served.serve(place);
  await page.page.waitForFunction(() => document.getElementById('lost').hidden);
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

run({
  'the class sees symptoms in blind mode, and no faults': blind_class,
  'nobody comes in without the token, which stands in no address': tokens,
  'a page says that its program has gone, and finds it again': program_goes,
  'a look is kept, and any unit and trend can be chosen': looks,
});
