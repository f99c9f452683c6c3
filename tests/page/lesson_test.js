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
/// Waits until it has gone on, and again waits for a person, or is at its end.
async function moves_on(page, from) {
  await page.page.waitForFunction(({place, button}) => {
    const has = (selector) => document.querySelector(`#lesson ${selector}`), now = document.querySelector('.lesson-place').innerText;
    const turn = has('input[type="radio"]') || has('.go-on') || /at its end/.test(now);
    return turn && (now !== place || (has('.go-on')?.innerText || '') !== button);
  }, from);
}

async function lesson({browser, folder}, file) {
  const name = path.basename(file, '.yaml');
  const url = await teach(file, folder);
  const trainer = await Watched.open(browser, url), room = await Watched.open(browser, `${url}class`, {viewport: SIZES.phone});
  for (const page of [trainer, room]) await page.sees('#lesson h2', /\w/);
  equal(await room.page.locator('#lesson button, #lesson input').count(), 0, "controls on the class's page");
  await trainer.both_looks(`lesson-${name}`);

  let asked = 0, told = 0;
  for (let steps = 0; ; steps += 1) {
    check(steps < MOST_STEPS, 'the lesson comes to no end');
    const now = await phase(trainer);
    if (now.done) break;
    if (now.question) {
      asked += 1;
      await room.sees('.lesson-place', new RegExp(now.place.trim()));
      await room.sees('#lesson .ask', /\w/);
      check(!/what happens\)/.test(await room.text('#lesson')), 'the class is told before it predicts');
      if (asked === 1) {
        await trainer.judge('a question');
        await trainer.picture(`lesson-${name}-question`);
        await room.picture(`lesson-${name}-question-class`);
      }
      await trainer.page.locator('#lesson input[type="radio"]').first().focus();
      await trainer.page.keyboard.press('Space');
      await trainer.press('That is our prediction', '#lesson');
    } else if (now.button) {
      await trainer.press(now.button, '#lesson');
    }
    await moves_on(trainer, now);
    if (/(Predicted rightly\.|It came otherwise\.)/.test((await phase(trainer)).whole) && told === 0) {
      told += 1;
      await trainer.both_looks(`lesson-${name}-told`);
      await room.judge("what happened, on the class's page");
    }
  }
  check(asked > 0, 'the lesson asks nothing');
  await trainer.sees('#lesson-score', new RegExp(`of ${asked}`));
  await room.sees('.lesson-place', /at its end/);
  await trainer.both_looks(`lesson-${name}-end`);

  await trainer.press('Start over', '#lesson');
  await trainer.sees('.lesson-place', /step 1 of/);
  await room.sees('.lesson-place', /step 1 of/);
  await trainer.sees('#headline-text', /\w/);
  for (const page of [trainer, room]) page.complaints = page.complaints.filter((text) => !/status of 503/.test(text)); // what was asked while there was no bench
  await trainer.close();
  await room.close();
}

const files = process.argv.slice(5);
check(files.length > 0, 'no lesson was named');
run(Object.fromEntries(files.map((file) => [`${path.basename(file)} is walked through, and starts over`, (given) => lesson(given, file)])));
