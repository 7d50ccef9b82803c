// When numbers are painted: `node paint.cjs ADDRESS RUN SECONDS`, the time of each in ms since 1970. With
// SECONDS of 0: how long the run's page takes to be there, closer up, and what it takes of memory.
'use strict';
const { withBrowser, main } = require('../../tests/browser/browser.cjs');

const [address, run, seconds] = process.argv.slice(2);

const watch = () => {
  window.painted = [];
  const number = document.querySelector('.cards .number');
  new MutationObserver(() => {
    const text = number.textContent;
    // A frame's callbacks come before it is painted; a message sent from one comes after.
    requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => window.painted.push([text, performance.timeOrigin + performance.now()]);
      channel.port2.postMessage(0);
    });
  }).observe(number, { childList: true, characterData: true, subtree: true });
};

const painted = async (page) => {
  await page.goto(`http://${address}/run/${run}`);
  await page.waitForFunction(() => ![null, '–'].includes(document.querySelector('.cards .number')?.textContent ?? null));
  await page.evaluate(watch);
  await page.waitForTimeout(Number(seconds) * 1000);
  return page.evaluate(() => window.painted);
};

const opened = async (page) => {
  const until = async (act, what) => {
    const begun = Date.now();
    await act();
    await page.waitForFunction(what);
    return Date.now() - begun;
  };
  const there = () => document.querySelector('#picture svg') !== null;
  const open_ms = await until(() => page.goto(`http://${address}/run/${run}`), there);
  const heap = () => page.evaluate(() => performance.memory.usedJSHeapSize);
  const before = await heap();
  const zoom = [];
  for (let i = 0; i < 6; i += 1) {
    await page.evaluate(() => document.querySelector('#picture svg').setAttribute('data-old', ''));
    const fresh = () => document.querySelector('#picture svg:not([data-old])') !== null;
    zoom.push(await until(() => page.click('[data-zoom="in"]'), fresh));
  }
  return { open_ms, zoom_ms: zoom, heap: [before, await heap()] };
};

main(() => withBrowser({}, async (context) => {
  const page = await context.newPage();
  return seconds === '0' ? opened(page) : painted(page);
}));
