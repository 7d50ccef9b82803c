// A browser for the tests, and what they ask of every page.
'use strict';
const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');
const { chromium } = require('playwright-core');

const AXE = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

// Starts the system's Chromium with a profile of its own, which is gone afterwards.
exports.withBrowser = async (options, work) => {
  const profile = fs.mkdtempSync(path.join(os.tmpdir(), 'browser-'));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
    args: ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update', '--disable-sync'],
    viewport: { width: 1024, height: 768 },
    ...options,
  });
  try {
    return await work(context);
  } finally {
    await context.close();
    fs.rmSync(profile, { recursive: true, force: true });
  }
};

// Whatever a page complains of.
exports.complaints = (page) => {
  const said = [];
  page.on('console', (m) => { if (['error', 'warning'].includes(m.type())) said.push(`${m.text()} (${m.location().url})`); });
  page.on('pageerror', (error) => said.push(String(error)));
  page.on('requestfailed', (r) => { if (!/\/live$|picture\.svg/.test(r.url())) said.push(`${r.url()}: ${r.failure()?.errorText}`); });
  return said;
};

// What axe-core finds, in short. It is put in by the debugger: the page's policy forbids it.
exports.axe = async (page, where) => {
  const session = await page.context().newCDPSession(page);
  await session.send('Runtime.evaluate', { expression: AXE });
  const answer = await session.send('Runtime.evaluate', {
    expression: `axe.run({ resultTypes: ['violations'] }).then((r) => JSON.stringify([r.passes.length,
      r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.target + ' ' + n.failureSummary).join(' | '))]))`,
    awaitPromise: true,
    returnByValue: true,
  });
  await session.detach();
  if (answer.exceptionDetails) throw new Error(`axe did not run on ${where}: ${JSON.stringify(answer.exceptionDetails)}`);
  const [passes, violations] = JSON.parse(answer.result.value);
  return { where, passes, violations };
};

// Whether anything is wider than the window.
exports.sideways = (page) => page.evaluate(() => document.documentElement.scrollWidth - innerWidth);

exports.main = (work) => work().then(
  (told) => { process.stdout.write(`${JSON.stringify(told)}\n`); },
  (error) => { process.stderr.write(`${error.stack}\n`); process.exitCode = 1; },
);
