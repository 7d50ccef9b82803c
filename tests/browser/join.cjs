// Joins as a phone in the room does: `node join.cjs ADDRESS CODE`. At the computer itself nobody needs to,
// but the form is the same, and so is what a browser sends with it.
'use strict';
const { withBrowser, axe, sideways, main } = require('./browser.cjs');

const [address, code] = process.argv.slice(2);

main(() => withBrowser({ viewport: { width: 390, height: 844 } }, async (context) => {
  const page = await context.newPage();
  await page.goto(`http://${address}/join`);
  const give = async (words) => {
    await page.fill('#code', words);
    await Promise.all([page.waitForNavigation(), page.press('#code', 'Enter')]);
  };
  const wide = [await sideways(page)];
  const looks = [await axe(page, 'join')];
  await give('WRONG2');
  const wrong = await page.textContent('[role=alert]');
  await give(code);
  const wall = new URL(page.url()).pathname;
  wide.push(await sideways(page));
  await page.goto(`http://${address}/nowhere`);
  wide.push(await sideways(page));
  looks.push(await axe(page, 'refused'));
  const nowhere = await page.textContent('nav a[href="/"]');
  return { wrong, wall, nowhere, sideways: wide, axe: looks };
}));
