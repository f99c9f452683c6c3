// Every shipped lesson, walked through to its end by keyboard, with the class looking on from a page of its own.
//
// usage: node lesson_test.js EMBERLINE CHROMIUM FOLDER-FOR-PICTURES SCENARIO...
'use strict';

const fs = require('node:fs');
const path = require('node:path');
const {SIZES, Watched, check, equal, run, start, until} = require('./support.js');

const MOST_STEPS = 40;

async function teach(file, folder) {
  const ready = path.join(folder, 'ready.json');
  const program = start(['lesson', file, '--panel', '127.0.0.1:0', '--ready-file', ready]);
  const told = await until('the ready file', () => {
    check(program.exitCode === null, `emberline lesson has ended:\n${program.log()}`);
    return fs.existsSync(ready) && JSON.parse(fs.readFileSync(ready, 'utf8'));
  });
  return told.panel;
}

/// What the lesson waits for now: an answer, a press, or something on the bench.
async function phase(page) {
  return page.page.evaluate(() => ({
    place: document.querySelector('.lesson-place').innerText, question: Boolean(document.querySelector('#lesson input[type="radio"]')),
    button: document.querySelector('#lesson .go-on')?.innerText || '', done: /at its end/.test(document.querySelector('.lesson-place').innerText),
    whole: document.getElementById('lesson').innerText,
  }));
}
/// What the clock of the bench shows, in s.
const seconds = async (page) => (await page.text('#time')).split(':').reduce((sum, part) => sum * 60 + Number(part), 0);

/// A step's signals have values, for the class too.
async function looks_at(...pages) {
  for (const page of pages) {
    await page.sees('.look-at dt', /since the last request|power|state|current/);
    await page.until(() => [...document.querySelectorAll('.look-at dd')].every((cell) => cell.textContent && cell.textContent !== '–'));
  }
}
/// Waits until it has gone on, and again waits for a person, or is at its end.
async function moves_on(page, from) {
  await page.until(({place, button}) => {
    const has = (selector) => document.querySelector(`#lesson ${selector}`), now = document.querySelector('.lesson-place').innerText;
    const turn = has('input[type="radio"]') || has('.go-on') || /at its end/.test(now);
    return turn && (now !== place || (has('.go-on')?.innerText || '') !== button);
  }, from);
}

/// The right answers, as the scenario has them in its order.
const right_answers = (file) => [...fs.readFileSync(file, 'utf8').matchAll(/^ {4}right: (\d+)$/gm)].map((found) => Number(found[1]));

async function lesson({browser, folder}, file) {
  const name = path.basename(file, '.yaml').replace(/^lesson-/, '');
  const url = await teach(file, folder);
  const trainer = await Watched.open(browser, url), room = await Watched.open(browser, `${url}class`, {viewport: SIZES.phone});
  for (const page of [trainer, room]) await page.sees('#lesson h2', /\w/);
  equal(await room.page.locator('#lesson button, #lesson input').count(), 0, "controls on the class's page");
  await trainer.both_looks(`lesson-${name}`);

  // Answers to "next" are held back until the live connection has told what came of it: older news is no news.
  const late = [];
  await trainer.page.route('**/api/lesson', async (route) => {
    if (!/"next"/.test(route.request().postData() || '')) return route.continue();
    const response = await route.fetch();
    late.push(() => route.fulfill({response}));
  });
  const right = right_answers(file);
  let asked = 0, told = 0, wanted = 0;
  await looks_at(trainer, room);
  for (let steps = 0; ; steps += 1) {
    check(steps < MOST_STEPS, 'the lesson comes to no end');
    const now = await phase(trainer);
    if (now.done) break;
    if (now.question) {
      asked += 1;
      await room.sees('.lesson-place', new RegExp(now.place.trim()));
      await room.sees('#lesson .ask', /\w/);
      check(!/what happens\)|and right\)/.test(await room.text('#lesson')), 'the class is told before it predicts');
      if (asked === 1) {
        await trainer.judge('a question');
        await trainer.picture(`lesson-${name}-question`);
        await room.picture(`lesson-${name}-question-class`);
      }
      // Wrong the first time, and right ever after.
      const answers = await trainer.page.locator('#lesson input[type="radio"]').count();
      const choice = asked === 1 ? right[0] % answers + 1 : right[asked - 1];
      wanted += choice === right[asked - 1] ? 1 : 0;
      await trainer.page.locator('#lesson input[type="radio"]').nth(choice - 1).focus();
      await trainer.page.keyboard.press('Space');
      await trainer.press('That is our prediction', '#lesson');
    } else if (now.button) {
      await trainer.press(now.button, '#lesson');
    }
    await moves_on(trainer, now);
    for (const give of late.splice(0)) await give();
    if (/(Predicted rightly\.|It came otherwise\.)/.test((await phase(trainer)).whole) && told === 0) {
      told += 1;
      await trainer.both_looks(`lesson-${name}-told`);
      await room.judge("what happened, on the class's page");
    }
  }
  check(asked > 0, 'the lesson asks nothing');
  equal(asked, right.length, 'questions that were asked');
  for (const page of [trainer, room]) await page.sees('#lesson-score', new RegExp(`^Predicted rightly: ${wanted} of ${asked}$`));
  check(wanted < asked, 'no answer was wrong');
  await trainer.sees('.past', /You said: .*; it was: /);
  const ended_at = await seconds(trainer);
  await room.sees('.lesson-place', /at its end/);
  await trainer.both_looks(`lesson-${name}-end`);

  for (const page of [trainer, room]) equal(page.complaints, [], 'what the browser complains of until then');
  await trainer.press('Start over', '#lesson');
  await trainer.sees('.lesson-place', /step 1 of/);
  await room.sees('.lesson-place', /step 1 of/);
  await trainer.sees('#headline-text', /\w/);
  await room.until((before) => document.getElementById('time').textContent.split(':').reduce((sum, part) => sum * 60 + Number(part), 0) < before, ended_at);
  await trainer.sees('#lesson-score', /No prediction yet/);
  await trainer.press("Trainer's drawer", '.top');
  await trainer.sees('.in-force', /^nothing/);
  // What a page asks just while there is no bench is answered 503, and the browser says so.
  for (const page of [trainer, room]) page.complaints = page.complaints.filter((words) => !words.includes('503'));
  await trainer.close();
  await room.close();
}

const files = process.argv.slice(5);
check(files.length > 0, 'no lesson was named');
run(Object.fromEntries(files.map((file) => [`${path.basename(file)} is walked through, and starts over`, (given) => lesson(given, file)])));
