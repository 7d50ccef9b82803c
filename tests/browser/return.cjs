// Looks at a run whose server goes and comes back: `node return.cjs ADDRESS RUN`. Says `shown`, `lost`
// and `back` as it comes to it; the test stops and starts the server in between.
'use strict';
const { withBrowser, main } = require('./browser.cjs');

const [address, run] = process.argv.slice(2);
const number = () => document.querySelector('.cards .number').textContent;

main(() => withBrowser({}, async (context) => {
  const page = await context.newPage();
  await page.goto(`http://${address}/run/${run}`);
  await page.waitForFunction(() => document.querySelector('.cards .number')?.textContent !== '–');
  const before = await page.evaluate(number);
  process.stdout.write('"shown"\n');
  await page.waitForSelector('#link:not([hidden])', { timeout: 60000 });
  process.stdout.write('"lost"\n');
  await page.waitForFunction(() => document.getElementById('link').hidden, null, { timeout: 60000 });
  await page.waitForFunction((old) => document.querySelector('.cards .number').textContent !== old, before, { timeout: 60000 });
  const marks = await page.evaluate(() => document.getElementById('marks').rows.length);
  return { before, after: await page.evaluate(number), marks };
}));
