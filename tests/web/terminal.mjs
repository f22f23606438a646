// What the tests of the shop terminal stand on: a server that can be stopped, killed and started again on the same
// ledger and port; and an operator with a scanner who counts what each job takes.

import { spawnSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { browse, ended, ownPort, PATIENCE, SIZES, started } from './support.mjs';

/** A mill whose server comes and goes. */
export async function mill() {
  const program = process.env.KINWIRE;
  if (!program) throw new Error('KINWIRE names the program');
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'kinwire-shop-'));
  const ledger = path.join(folder, 'mill.kw');
  let child = null;
  const port = await ownPort();

  async function start() {
    if (child) return;
    const pages = process.env.KINWIRE_WEB ? ['--web', process.env.KINWIRE_WEB] : []; /* pages being worked on */
    const up = await started(program, ['--ledger', ledger, '--listen', `127.0.0.1:${port}`, '--open', ...pages]);
    child = up.child;
  }

  async function end(signal) {
    if (!child) return;
    await ended(child, signal);
    child = null;
  }

  await start();
  const url = `http://127.0.0.1:${port}`;
  return {
    url,
    start,
    stop: () => end('SIGTERM'),
    kill: () => end('SIGKILL'),
    pause: () => child.kill('SIGSTOP'),
    resume: () => child.kill('SIGCONT'),
    async away() {
      await end('SIGTERM');
      fs.rmSync(folder, { recursive: true, force: true });
    },
    /** Recorded while the server is down. */
    async load(...entries) {
      const file = path.join(folder, 'more.ndjson');
      fs.writeFileSync(file, entries.map((e) => `${JSON.stringify({ key: randomUUID(), ...e })}\n`).join(''));
      const loaded = spawnSync(program, ['load', '--ledger', ledger, file], { encoding: 'utf8' });
      if (loaded.status !== 0) throw new Error(`load: ${loaded.stderr || loaded.stdout}`);
    },
    get: async (where) => (await fetch(url + where)).json(),
    async post(...entries) {
      const answer = await fetch(`${url}/api/entries`, {
        method: 'POST',
        headers: { 'Content-Type': 'application/x-ndjson' },
        body: entries.map((e) => `${JSON.stringify({ key: randomUUID(), ...e })}\n`).join(''),
      });
      if (!answer.ok) throw new Error(`${answer.status} ${await answer.text()}`);
    },
    /** All entries, oldest first. */
    async entries() {
      const text = await (await fetch(`${url}/api/ledger/entries?after=0&limit=5000`)).text();
      return text
        .trim()
        .split('\n')
        .filter(Boolean)
        .map((line) => JSON.parse(line));
    },
  };
}

/** A mill with stock and a browser, as a file of tests begins: { m, browser }. */
export async function floor() {
  const m = await mill();
  try {
    const browser = await browse();
    await stock(m);
    return { m, browser };
  } catch (cause) {
    await m.away();
    throw cause;
  }
}

/** And as it ends, be it that it never began. */
export async function leave({ m, browser }) {
  await browser?.close();
  await m?.away();
}

/** A page of the terminal at a station, with its name, language and units already chosen; as support.open otherwise. */
export async function terminal(
  browser,
  size,
  url,
  station,
  { language = 'en', units = 'si', context = null, name = 'TERM-1', locale = 'en-GB' } = {},
) {
  const room = context || (await browser.newContext({ viewport: SIZES[size], hasTouch: size === 'hand', locale }));
  const page = await room.newPage();
  page.complaints = [];
  page.on('console', (message) => {
    if (message.type() === 'error' && !/Failed to load resource|ERR_|net::/.test(message.text()))
      page.complaints.push(message.text());
  });
  page.on('pageerror', (error) => page.complaints.push(String(error.stack || error)));
  await page.addInitScript(
    ([n, l, u]) => {
      window.breaches = [];
      document.addEventListener('securitypolicyviolation', (event) =>
        window.breaches.push(`${event.violatedDirective} ${event.blockedURI}`),
      );
      if (localStorage.getItem('kinwire.terminal')) return;
      localStorage.setItem('kinwire.terminal', n);
      localStorage.setItem('kinwire.language', l);
      localStorage.setItem('kinwire.units', u);
    },
    [name, language, units],
  );
  await page.goto(`${url}/shop.html?station=${station}`);
  await page.waitForSelector('#work .run, #work article');
  return page;
}

/** Until the page has done what it was told, or asks something, or says STOP. */
export const idle = (page) =>
  page.waitForFunction(
    () =>
      !document.body.dataset.busy ||
      document.body.classList.contains('asking') ||
      document.body.classList.contains('stopped'),
    null,
    { timeout: PATIENCE },
  );

/** Until nothing waits to be sent. */
export const sent = (page) =>
  page.waitForFunction(() => document.querySelector('#count')?.dataset.waiting === '0', null, { timeout: PATIENCE });

/** An operator: scans (a code and Enter in one burst), figures (keys, then Enter), taps. Each is counted. */
export function operator(page) {
  const count = { scans: 0, figures: 0, taps: 0, keys: 0 };
  const begun = Date.now();
  return {
    count,
    async scan(code) {
      count.scans += 1;
      await page.keyboard.type(code);
      await page.keyboard.press('Enter');
      await idle(page);
    },
    async figure(text) {
      count.figures += 1;
      count.keys += text.length;
      if (text) await page.keyboard.type(text);
      count.taps += 1;
      await page.keyboard.press('Enter');
      await idle(page);
    },
    /** Tap a button by its words ("text=...") or where it is. */
    async tap(what) {
      count.taps += 1;
      await (what.startsWith('text=') ? page.getByRole('button', { name: what.slice(5) }) : page.locator(what))
        .first()
        .click();
      await idle(page);
    },
    async type(what, text) {
      count.keys += text.length;
      await page.fill(what, text);
    },
    said() {
      const seconds = ((Date.now() - begun) / 1000).toFixed(1);
      return `${seconds} s, ${count.scans} scans, ${count.figures} figures (${count.keys} keys), ${count.taps} taps`;
    },
  };
}

/** Stock of wire for the tests: a heat, rod coils, bobbins, a rope, one bobbin on hold. */
export async function stock(m) {
  await m.post(
    { kind: 'heat', body: { heat: 'H-100', supplier: 'Northmark Steel', grade: 'C82D' } },
    ...Array.from({ length: 12 }, (_, i) => ({
      kind: 'receive',
      body: { lot: `RC-${i + 1}`, heat: 'H-100', diameter_um: 5500, mass_g: 2000000, length_mm: 10723710 },
    })),
    ...Array.from({ length: 41 }, (_, i) => ({
      kind: 'receive',
      body: { lot: `BB-${i + 1}`, kind: 'bobbin', heat: 'H-100', diameter_um: 1120, length_mm: 3400000 + i * 1000 },
    })),
    ...Array.from({ length: 7 }, (_, i) => ({
      kind: 'receive',
      body: { lot: `ST-${i + 1}`, kind: 'strand', heat: 'H-100', diameter_um: 4300, length_mm: 3100000 + i * 1000 },
    })),
    { kind: 'receive', body: { lot: 'RP-1', kind: 'rope', heat: 'H-100', diameter_um: 13000, length_mm: 1000000 } },
    { kind: 'receive', body: { lot: 'RP-2', kind: 'rope', heat: 'H-100', diameter_um: 13000, length_mm: 1500000 } },
    { kind: 'receive', body: { lot: 'BB-HELD', kind: 'bobbin', heat: 'H-100', diameter_um: 1120, length_mm: 3000000 } },
    { kind: 'hold', body: { hold: 'HO-7', reason: 'Torsions failed', lots: [{ lot: 'BB-HELD' }] } },
  );
}
