// Pictures of what the program shows: `node screens.cjs terminal SCREEN OUT`, with the cells of a
// terminal as tmux captures them; `page ADDRESS OUT`; `paper FILE OUT`, the top of a page to print.
'use strict';
const fs = require('node:fs');
const path = require('node:path');
const { withBrowser, main } = require('../../tests/browser/browser.cjs');

const escaped = (text) => text.replace(/&/g, '&amp;').replace(/</g, '&lt;');

// Sixteen colours that read well on black; what a terminal has in their place is its user's choice.
const SIXTEEN = ['#000000', '#d55e00', '#3fa34d', '#d9b600', '#4f8fdd', '#b07cc6', '#3fb5b5', '#d0d0d0',
  '#8a8a8a', '#ff8a4d', '#7fd18b', '#f0d95c', '#8bbcf5', '#d6aee6', '#86dede', '#ffffff'];
const indexed = (n) => {
  if (n < 16) return SIXTEEN[n];
  if (n > 231) return `rgb(${Array(3).fill(8 + 10 * (n - 232))})`;
  const step = (k) => [0, 95, 135, 175, 215, 255][k % 6];
  return `rgb(${step(Math.floor((n - 16) / 36))},${step(Math.floor((n - 16) / 6))},${step(n - 16)})`;
};

// What one escape for appearance (ECMA-48, SGR) makes of the state before it.
const changed = (state, codes) => {
  let next = { ...state };
  for (let i = 0; i < codes.length; i++) {
    const code = codes[i];
    if (code === 0) next = {};
    else if (code === 1) next.bold = true;
    else if (code === 2) next.dim = true;
    else if (code === 7) next.inverse = true;
    else if (code === 22) next = { ...next, bold: false, dim: false };
    else if (code === 27) next.inverse = false;
    else if (code === 39) delete next.ink;
    else if (code === 49) delete next.paper;
    else if (code === 38 || code === 48) {
      const rgb = codes[i + 1] === 2;
      const colour = rgb ? `rgb(${codes.slice(i + 2, i + 5)})` : indexed(codes[i + 2]);
      next[code === 38 ? 'ink' : 'paper'] = colour;
      i += rgb ? 4 : 2;
    } else if (code >= 30 && code < 38) next.ink = SIXTEEN[code - 30];
    else if (code >= 40 && code < 48) next.paper = SIXTEEN[code - 40];
    else if (code >= 90 && code < 98) next.ink = SIXTEEN[code - 82];
  }
  return next;
};

const styled = (state, text) => {
  const { ink = '#e6e6e6', paper = '#101418' } = state;
  const [front, back] = state.inverse ? [paper, ink] : [ink, paper];
  const looks = `color:${front};background:${back}${state.bold ? ';font-weight:bold' : ''}${state.dim ? ';opacity:.65' : ''}`;
  // Each cell is as wide as the next, whatever font has its sign.
  const cells = [...text].map((sign) => (sign === '\n' ? sign : `<b>${escaped(sign)}</b>`));
  return `<span style="${looks}">${cells.join('')}</span>`;
};

const screen = (captured) => {
  let state = {};
  const parts = captured.replace(/\n+$/, '').split(/\x1b\[([0-9;]*)m/);
  const html = parts.map((part, i) => {
    if (i % 2 === 0) return styled(state, part.replace(/\x1b\([A-Z]|[\x0e\x0f]/g, ''));
    state = changed(state, (part || '0').split(';').map(Number));
    return '';
  });
  return `<!doctype html><meta charset="utf-8">
    <style>
      body { margin: 0; background: #101418 }
      pre { margin: 0; padding: 14px; display: inline-block; font: 15px/18px 'DejaVu Sans Mono', monospace }
      b { display: inline-block; width: 9px; height: 18px; overflow: hidden; font-weight: inherit; vertical-align: top }
    </style>
    <pre>${html.join('')}</pre>`;
};

main(() => {
  const [what, from, out] = process.argv.slice(2);
  const options = { viewport: { width: 1280, height: 900 }, deviceScaleFactor: what === 'paper' ? 1 : 1.25 };
  return withBrowser(options, async (context) => {
    const page = await context.newPage();
    if (what === 'terminal') {
      await page.setContent(screen(fs.readFileSync(from, 'utf8')));
      await page.locator('pre').screenshot({ path: out });
    } else if (what === 'page') {
      await page.goto(from);
      await page.waitForFunction(() => [...document.images].every((image) => image.complete && image.naturalWidth > 0));
      await page.screenshot({ path: out });
    } else {
      await page.setViewportSize({ width: 820, height: 1160 });
      await page.goto(`file://${path.resolve(from)}`);
      await page.screenshot({ path: out });
    }
    return out;
  });
});
