// The live page: texts, table and picture as the server tells them. No library, nothing kept but
// whether the room is dark.
'use strict';
(() => {
  const byId = (id) => document.getElementById(id);
  const run = document.body.dataset.run;
  const put = (node, text) => { if (node && node.textContent !== text) node.textContent = text; };
  const make = (name, text, kind) => {
    const node = document.createElement(name);
    node.textContent = text;
    if (kind) node.className = kind;
    return node;
  };

  // Light and dark.
  const root = document.documentElement, light = byId('light');
  const isDark = () => root.dataset.light === 'dark';
  const setDark = (dark) => {
    root.dataset.light = dark ? 'dark' : 'light';
    light?.setAttribute('aria-pressed', String(dark));
  };
  const kept = () => { try { return localStorage.getItem('light'); } catch { return null; } };
  setDark((kept() ?? (matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light')) === 'dark');
  light?.addEventListener('click', () => {
    setDark(!isDark());
    try { localStorage.setItem('light', root.dataset.light); } catch { /* a private window */ }
    draw(true);
  });

  // The picture is fetched when there is a new one and put in place whole, so that it never flickers.
  const picture = byId('picture');
  let view = null, plot = null, drawing = false, again = false;
  async function draw(forced) {
    if (!picture) { if (forced) wallPictures(); return; }
    if (drawing) { again = true; return; }
    drawing = true;
    const w = Math.max(320, Math.round(picture.clientWidth / 40) * 40);
    const h = Math.round(w < 600 ? w * 0.85 : Math.min(w * 0.52, innerHeight * 0.75));
    const stretch = view ? `&from=${view[0]}&to=${view[1]}` : '';
    try {
      const answer = await fetch(`/run/${run}/picture.svg?w=${w}&h=${h}&dark=${isDark() ? 1 : 0}${stretch}`);
      if (answer.ok) {
        const [left, right, from, to] = (answer.headers.get('x-plot') ?? '').split(',').map(Number);
        const drawn = new DOMParser().parseFromString(await answer.text(), 'image/svg+xml').documentElement;
        if (drawn.nodeName === 'svg') {
          plot = { left, right, from, to, w };
          picture.replaceChildren(document.importNode(drawn, true));
        }
      }
    } catch { /* the stream tells of a lost connection */ }
    drawing = false;
    if (again) { again = false; draw(); }
  }

  // Values under the pointer, and by the arrow keys on the picture.
  let asked = 0;
  async function read(at) {
    const mine = ++asked;
    const answer = await fetch(`/run/${run}/row?at=${at.toFixed(3)}`).catch(() => null);
    if (!answer?.ok || mine !== asked) return;
    const row = await answer.json();
    const names = [...document.querySelectorAll('.cards h2')].map((n) => n.textContent);
    const cells = row.cells.map((c, i) => `${names[i] ?? ''} ${c === '' ? '–' : c + ' °C'}`);
    put(byId('near'), [row.clock, ...cells, row.flags].filter(Boolean).join('   '));
  }
  let last = 0;
  picture?.addEventListener('pointermove', (e) => {
    if (!plot || e.timeStamp - last < 60) return;
    last = e.timeStamp;
    const box = picture.getBoundingClientRect();
    const share = ((e.clientX - box.left) * plot.w / box.width - plot.left) / (plot.right - plot.left);
    if (share >= 0 && share <= 1) read(plot.from + share * (plot.to - plot.from));
  });
  for (const button of document.querySelectorAll('[data-zoom]')) {
    button.addEventListener('click', () => {
      if (!plot) return;
      let [a, b] = view ?? [plot.from, plot.to];
      const middle = (a + b) / 2, half = (b - a) / 2;
      const to = button.dataset.zoom;
      if (to === 'in') [a, b] = [middle - half / 2, middle + half / 2];
      if (to === 'out') [a, b] = [middle - 2 * half, middle + 2 * half];
      if (to === 'back') [a, b] = [a - half, b - half];
      if (to === 'on') [a, b] = [a + half, b + half];
      view = to === 'all' ? null : [Math.max(0, a), Math.max(1, b)];
      draw();
    });
  }

  // What people do: each answer is words from the server.
  let saidAt = 0;
  async function send(to, what) {
    const headers = { 'content-type': 'application/json' };
    const body = JSON.stringify(what);
    const answer = await fetch(`/run/${run}/${to}`, { method: 'POST', headers, body }).catch(() => null);
    const words = answer ? await answer.text() : 'The connection is lost.';
    const mine = ++saidAt;
    put(byId('answer'), words);
    // Long words stay as long as it takes to read them.
    setTimeout(() => { if (mine === saidAt) put(byId('answer'), ''); }, Math.max(6000, 70 * words.length));
    return answer?.ok ?? false;
  }
  for (const form of document.querySelectorAll('form[data-to]')) {
    form.addEventListener('submit', async (e) => {
      e.preventDefault();
      const { to } = form.dataset, had = new FormData(form);
      let what = { names: had.getAll('names[]') };
      if (to === 'predict') what = { group: Number(had.get('group')), sample: Number(had.get('sample')) };
      if (to === 'act') what = { do: 'note', text: had.get('text') };
      if (had.has('free')) what = { do: 'free-group', group: Number(had.get('free')) };
      if (had.has('note')) what = { note: had.get('note'), minute: had.get('minute') === '' ? null : Number(had.get('minute')) };
      if (await send(to, what) && to !== 'predict' && !('names' in form.dataset)) form.reset();
    });
  }
  for (const button of document.querySelectorAll('[data-do]')) {
    const words = button.textContent;
    let sure = button.dataset.do !== 'end';
    button.addEventListener('click', () => {
      if (sure) { send('act', { do: button.dataset.do }); return; }
      sure = true;
      button.textContent = 'Press once more to end the run';
      setTimeout(() => { sure = false; button.textContent = words; }, 5000);
    });
  }
  function people(told) {
    const hide = (id, hidden) => { const node = byId(id); if (node) node.hidden = hidden; };
    hide('acts', !told.here);
    hide('afterwards', told.state !== 'finished');
    hide('lamp', told.lamp === '');
    put(document.querySelector('#lamp span'), told.lamp);
    const lamp = byId('lamp');
    if (lamp) lamp.dataset.do = told.lamp === 'ON' ? 'lamp-on' : 'lamp-off';
    hide('go-on', told.next_step === '');
    put(document.querySelector('#go-on span'), told.next_step);
    hide('free', !told.poll.open);
    hide('poll', told.poll.text === '');
    const form = document.querySelector('#poll form');
    if (form) form.hidden = !told.poll.open;
    put(byId('told'), told.poll.text);
  }

  // Texts.
  let shown = { picture: -1, cue: byId('cue')?.textContent ?? '' };
  function now(told) {
    put(byId('cue'), told.cue);
    put(byId('clock'), told.clock);
    put(byId('next'), told.next);
    if (told.state === 'finished') put(byId('download'), 'Download the readings (CSV)');
    document.querySelector('main')?.setAttribute('data-state', told.state);
    const cards = document.querySelectorAll('.cards .sample');
    // Its files are being put in place anew.
    if (cards.length && !told.samples.length) return;
    if (cards.length !== told.samples.length) { location.reload(); return; }
    told.samples.forEach((sample, i) => {
      const card = cards[i];
      if (card.querySelector('h2').textContent !== sample.name) location.reload();
      put(card.querySelector('.number'), sample.degc || '–');
      put(card.querySelector('.trend'), sample.trend);
      put(card.querySelector('.flag'), sample.flag);
    });
    byId('moving')?.setAttribute('x', `${((told.strip.now ?? 0) * 100).toFixed(2)}%`);
    for (const notch of document.querySelectorAll('.notch')) {
      notch.classList.toggle('passed', told.strip.now !== null && Number(notch.dataset.at) <= told.strip.now);
    }
    people(told);
    if (told.cue !== shown.cue) put(byId('heard'), told.cue);
    if (told.picture !== shown.picture && !view) draw();
    shown = { picture: told.picture, cue: told.cue };
  }
  function table(told) {
    const body = byId('marks');
    if (!body) return;
    const before = body.rows.length;
    body.replaceChildren(...told.rows.map((row) => {
      const line = document.createElement('tr');
      const head = make('th', row.minute);
      head.scope = 'row';
      line.append(head, ...row.cells.map((c) => make('td', c === '' ? '–' : c)), make('td', row.phase));
      return line;
    }));
    const latest = told.rows.at(-1);
    if (before && latest && told.rows.length > before) {
      const names = [...document.querySelectorAll('.cards h2')].map((n) => n.textContent);
      const cells = latest.cells.map((c, i) => `${names[i]} ${c === '' ? 'no reading' : c + ' degrees'}`);
      put(byId('heard'), `Mark ${latest.minute} minutes: ${cells.join(', ')}`);
    }
  }
  function log(told) {
    byId('log')?.replaceChildren(...told.events.map(([at, text]) => {
      const line = document.createElement('li');
      line.append(make('span', at, 'at'), ` ${text}`);
      return line;
    }));
  }

  // The wall.
  function wallPictures() {
    for (const image of document.querySelectorAll('.wall img')) {
      const to = new URL(image.src);
      to.searchParams.set('dark', isDark() ? '1' : '0');
      image.src = to.pathname + to.search;
    }
  }
  const drawn = new Map();
  function wall(told) {
    const cards = [...document.querySelectorAll('#wall > article')];
    const same = cards.length === told.length && cards.every((c, i) => c.dataset.id === told[i].id);
    if (!same) { location.reload(); return; }
    told.forEach((bench, i) => {
      const card = cards[i];
      if (card.dataset.state !== bench.state && bench.state === 'finished') { location.reload(); return; }
      card.dataset.state = bench.state;
      put(card.querySelector('.cue'), bench.cue);
      put(card.querySelector('.told'), bench.poll.text);
      const samples = card.querySelectorAll('.sample');
      bench.samples.forEach((sample, n) => {
        if (bench.state === 'finished' || !samples[n]) return;
        put(samples[n].querySelector('.number'), sample.degc || '–');
        put(samples[n].querySelector('.trend'), sample.trend || sample.flag);
      });
      // A small picture each five seconds is enough.
      const v = Math.floor(bench.picture / 5);
      if (bench.state !== 'finished' && drawn.get(bench.id) !== v) {
        drawn.set(bench.id, v);
        const image = card.querySelector('img');
        const next = new Image();
        next.onload = () => { image.src = next.src; };
        next.src = `/run/${encodeURIComponent(bench.id)}/picture.svg?w=420&h=240&dark=${isDark() ? 1 : 0}&v=${v}`;
      }
    });
  }

  // The stream. A page that slept, or whose server went, finds out by the missing signs of life.
  let stream = null, heardAt = Date.now();
  const heard = (what) => (event) => {
    heardAt = Date.now();
    byId('link').hidden = true;
    if (what) what(JSON.parse(event.data));
  };
  function connect() {
    stream?.close();
    stream = new EventSource(run ? `/run/${run}/live` : '/live');
    for (const [kind, what] of Object.entries({ now, table, log, wall, beat: null })) {
      stream.addEventListener(kind, heard(what));
    }
    stream.onerror = () => { byId('link').hidden = false; };
  }
  if (byId('main')?.dataset.state || byId('wall')) {
    connect();
    setInterval(() => {
      const dead = stream.readyState === EventSource.CLOSED;
      if (dead || Date.now() - heardAt > 13000) {
        byId('link').hidden = false;
        heardAt = Date.now() - 10000;
        connect();
      }
    }, 3000);
    addEventListener('pagehide', () => stream.close());
    addEventListener('pageshow', (e) => { if (e.persisted) connect(); });
    addEventListener('resize', () => draw());
    if (picture) draw(); else if (isDark()) wallPictures();
  }
})();
