// Looks at pages that were made as files: `node pages.cjs FILES...`. Tells what axe-core has against each,
// how far it goes sideways at three widths, and which captions leave the screen while their table scrolls.
'use strict';
const path = require('node:path');
const { withBrowser, axe, sideways, main } = require('./browser.cjs');

// Of each table that scrolls, at its far end: the caption's words, if they are not all to be seen.
const lost = () => [...document.querySelectorAll('.wide')].flatMap((wide) => {
  const words = wide.querySelector('caption span');
  if (!words || wide.scrollWidth <= wide.clientWidth) return [];
  wide.scrollLeft = wide.scrollWidth;
  const box = words.getBoundingClientRect();
  return box.left >= 0 && box.right <= innerWidth ? [] : [`${words.textContent} ${box.left} to ${box.right}`];
});

const scrolls = () => [...document.querySelectorAll('.wide')].filter((wide) => wide.scrollWidth > wide.clientWidth).length;

main(() => withBrowser({}, async (context) => {
  const told = [];
  const page = await context.newPage();
  for (const file of process.argv.slice(2)) {
    await page.goto(`file://${path.resolve(file)}`);
    const found = { file, axe: await axe(page, file), sideways: [] };
    for (const [width, height] of [[1920, 1080], [1024, 768], [360, 740]]) {
      await page.setViewportSize({ width, height });
      found.sideways.push(await sideways(page));
    }
    found.scrolls = await page.evaluate(scrolls);
    found.lost = await page.evaluate(lost);
    told.push(found);
  }
  return told;
}));
