// The whole story at a laptop's and a phone's size, by keyboard alone: live values, the cable pulled, the countdown,
// the latch, a reset that comes too early and is refused, comms back, the reset, and heat again.
//
// usage: node recovery_test.js EMBERLINE CHROMIUM FOLDER-FOR-PICTURES
'use strict';

const {SIZES, Watched, check, equal, run, until} = require('./support.js');

const figure = (stage) => `.${stage} .figure`;

/// The figure on the page is the one a master reads from the registers, to 3 %, once what moves has come to rest.
async function as_in_registers(page, served, selector, point, scale) {
  await until(`${point} on the page as in the registers`, async () => {
    const shown = Number((await page.text(selector)).replace(/[^\d.]/g, '')) * scale, read = served.read(point);
    return Math.abs(shown - read) <= 0.03 * read;
  });
}

/// Every text a figure has from now on.
async function note_figures(page, selector) {
  await page.page.evaluate((selector) => {
    const node = document.querySelector(selector);
    window.noted = [node.textContent];
    new MutationObserver(() => window.noted.push(node.textContent)).observe(node, {childList: true, characterData: true, subtree: true});
  }, selector);
  return async () => (await page.page.evaluate(() => window.noted)).map((text) => parseFloat(text));
}

/// From the last request that got through on, of 6 s.
async function runs_down(noted) {
  const last_rise = noted.map((value, at) => at > 0 && value > noted[at - 1] + 1e-9).lastIndexOf(true), falling = noted.slice(Math.max(last_rise, 0));
  check(falling.length >= 5, `the countdown was seen only at ${falling}`);
  // Only a request makes it rise. On a busy machine the last one may lie before the first figure that was noted.
  check(last_rise < 0 || falling[0] >= 5, `the countdown rises on its way: ${noted}`);
  equal(falling.at(-1), 0, 'where the countdown ends');
}

/// What came of an action and how it is taken back are on the screen, wherever the drawer was scrolled to.
async function stays_in_sight(page, selectors) {
  for (const share of [1, 0]) {
    const seen = await page.page.evaluate(({share, selectors}) => {
      const drawer = document.getElementById('drawer');
      drawer.scrollTop = share * drawer.scrollHeight;
      return selectors.map((selector) => {
        const box = document.querySelector(selector).getBoundingClientRect(), at = document.elementFromPoint(box.left + 4, box.top + box.height / 2);
        return Boolean(at?.closest('.drawer-top')) && box.top >= 0 && box.bottom <= innerHeight;
      });
    }, {share, selectors});
    equal(seen, selectors.map(() => true), `${selectors} in sight, with the drawer scrolled to ${share}`);
  }
}

async function recovery({browser, served}, size) {
  await served.serve();
  served.poll();
  const page = await Watched.open(browser, served.url, {viewport: SIZES[size]});
  await page.sees('#headline-text', /soak-heater heats with 1[12]\.\d.kW/);
  await page.sees('#connection-word', /^live$/);
  await page.sees(figure('heat'), /\d+.°C/);
  await page.sees('.who', /field: .*(times a second|every)/);
  await as_in_registers(page, served, figure('electricity'), 'load_power', 1000);
  await as_in_registers(page, served, '.phases tbody tr:first-child td:nth-child(3)', 'load_current_l1', 1);
  await page.until(() => document.querySelectorAll('.cycle .current').length === 3);
  await page.sees('#traffic', /soak-heater/);
  await page.both_looks(`running-${size}`);

  await page.press("Trainer's drawer", '.top');
  const noted = await note_figures(page, figure('asked'));
  await page.press('Cut field', '#drawer');
  await page.sees('.drawer .outcome', /^Done: the cable of field is pulled/);
  await page.sees('.in-force', /cut field/);
  await page.sees('#headline-text', /soak-heater is off, latched/);
  await page.sees(figure('asked'), /^0\.0.s$/);
  await runs_down(await noted());
  await page.sees('.who', /field cut: nothing gets through/);
  await page.sees('#steps li[data-place="next"]', /comms back first: the line field is cut/i);
  await page.sees('#steps li[data-place="later"]', /reset the latch: open terminal enable, then close it/i);
  await page.sees('.leak', /off is not isolated/i);
  await page.sees('.output .tags', /trip: comms lost/);
  await stays_in_sight(page, ['.drawer .outcome', '.in-force button']);
  await page.both_looks(`latched-drawer-${size}`);

  await page.press('Cycle enable of soak-heater', '#drawer');
  await page.sees('#journal', /soak-heater .*reset.*(refused|nothing)/i);
  await page.sees('#latest', /reset.*(refused|nothing)/i);
  await page.sees('#headline-text', /soak-heater is off, latched/);
  await page.picture(`refused-${size}`);

  await page.press('Undo cut field', '#drawer');
  await page.sees('#steps li[data-place="done"]', /comms back first/i);
  await page.sees('#steps li[data-place="next"]', /reset the latch/i);
  await page.sees('#headline-text', /soak-heater is off, latched/);
  await page.page.keyboard.press('Escape');
  await page.both_looks(`latched-${size}`);

  await page.press("Trainer's drawer", '.top');
  await page.press('Cycle enable of soak-heater', '#drawer');
  await page.sees('#headline-text', /soak-heater heats with 1[12]\.\d.kW/);
  await page.sees('#down', /it is back/);
  await page.sees('.drawer', /Last time to recover: \d+\.\d s/);
  await page.judge(`recovered, ${size}`);
  await page.picture(`recovered-${size}`);

  await page.pick('Of', 'field', '.traffic');
  await page.tab_to('Follow', '.traffic');
  await page.page.keyboard.press('Space'); // it stands still for those who read
  await page.page.keyboard.press('Tab'); // the list, then its first frame
  await page.page.keyboard.press('Tab');
  await page.page.keyboard.press('Enter');
  await page.sees('#traffic .fields', /unit id[\s\S]*function[\s\S]*CRC/i);
  await page.judge(`a frame opened, ${size}`);
  check(page.axe_runs >= 8, 'every state was looked at');
  await page.close();
}

run({
  'a latched unit is recovered from a laptop by keyboard': (given) => recovery(given, 'laptop'),
  'a latched unit is recovered from a phone by keyboard': (given) => recovery(given, 'phone'),
});
