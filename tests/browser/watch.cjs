// Watches a run from its start to its end as a class does: `node watch.cjs ADDRESS [PICTURES]`. Tells
// what was shown, what was announced, and what the page and axe-core complained of.
'use strict';
const path = require('node:path');
const { withBrowser, complaints, axe, sideways, main } = require('./browser.cjs');

const [address, pictures] = process.argv.slice(2);
const WIDTHS = [[360, 740], [1024, 768], [1920, 1080]];

// Notes each number and announcement in the moment in which it is shown.
const watch = () => {
  window.seen = { numbers: [], heard: [], updates: 0 };
  const numbers = () => [...document.querySelectorAll('.cards .number')].map((n) => n.textContent);
  const cards = document.querySelector('.cards');
  new MutationObserver(() => {
    window.seen.updates += 1;
    window.seen.numbers.push(numbers());
  }).observe(cards, { subtree: true, childList: true, characterData: true });
  const heard = document.getElementById('heard');
  new MutationObserver(() => window.seen.heard.push(heard.textContent))
    .observe(heard, { childList: true, characterData: true, subtree: true });
};

// Goes from one thing to the next by Tab until `there` says so.
const tabTo = async (page, there) => {
  for (let i = 0; i < 60; i += 1) {
    await page.keyboard.press('Tab');
    if (await page.evaluate(there)) return true;
  }
  return false;
};

const keyboard = async (page) => {
  const done = {};
  await page.evaluate(() => document.activeElement.blur());
  done.skip = await tabTo(page, () => document.activeElement.className === 'skip');
  done.dark = await tabTo(page, () => document.activeElement.id === 'light');
  const light = () => page.evaluate(() => document.documentElement.dataset.light);
  const before = await light();
  await page.keyboard.press('Space');
  done.dark = done.dark && before !== await light();
  await page.keyboard.press('Space');
  done.predict = await tabTo(page, () => document.activeElement.name === 'sample');
  await page.keyboard.press('Space');
  await tabTo(page, () => document.activeElement.name === 'group');
  // No group is chosen for people: a phone that left it at the first would overwrite that group's.
  await page.keyboard.type('1');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.getElementById('answer').textContent.startsWith('Kept'));
  done.zoom = await tabTo(page, () => document.activeElement.dataset.zoom === 'all');
  await page.keyboard.press('Enter');
  done.note = await tabTo(page, () => document.activeElement.id === 'note');
  await page.keyboard.type('typed on the page');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.getElementById('log').textContent.includes('typed on the page'));
  return done;
};

const look = async (page, where, told) => {
  for (const scheme of ['light', 'dark']) {
    await page.emulateMedia({ colorScheme: scheme });
    // What was chosen by hand stands over what the system asks for.
    await page.evaluate(() => localStorage.removeItem('light'));
    await page.reload();
    await page.waitForFunction((dark) => document.documentElement.dataset.light === dark, scheme);
    if (await page.locator('#picture').count()) await page.waitForSelector('#picture svg');
    told.axe.push(await axe(page, `${where}, ${scheme}`));
    for (const [width, height] of WIDTHS) {
      await page.setViewportSize({ width, height });
      await page.waitForTimeout(300);
      told.sideways.push([`${where} at ${width}`, await sideways(page)]);
      if (pictures) {
        await page.screenshot({ path: path.join(pictures, `${where}-${scheme}-${width}.png`), fullPage: true });
      }
    }
  }
  await page.emulateMedia({ colorScheme: 'light' });
  await page.setViewportSize({ width: 1024, height: 768 });
};

main(() => withBrowser({}, async (context) => {
  const told = { axe: [], sideways: [], complaints: [] };
  const page = await context.newPage();
  told.complaints = complaints(page);
  await page.goto(`http://${address}/`);
  await page.waitForSelector('#wall article a');
  const opened = await tabTo(page, () => document.activeElement.matches('#wall article a'));
  await page.keyboard.press('Enter');
  await page.waitForSelector('#picture svg');
  await page.waitForFunction(() => !document.querySelector('#poll form').hidden);
  await page.evaluate(watch);
  told.keyboard = { opened, ...await keyboard(page) };
  await page.waitForFunction(() => document.getElementById('cue').textContent === 'The lamp is on.', null, { timeout: 120000 });
  // A second page looks at it meanwhile, so that this one is watched without a break.
  const other = await context.newPage();
  const others = complaints(other);
  await other.goto(page.url());
  await look(other, 'run', told);
  await page.waitForSelector('main[data-state="finished"]', { timeout: 240000 });
  told.seen = await page.evaluate(() => window.seen);
  await other.waitForSelector('main[data-state="finished"]');
  await look(other, 'finished', told);
  await other.goto(`http://${address}/`);
  await look(other, 'wall', told);
  await other.goto(`http://${address}/join`);
  told.axe.push(await axe(other, 'join'));
  told.complaints.push(...others);
  return told;
}));
