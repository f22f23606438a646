// The terminal on a bad network: the server stopped, killed and started again in the middle; answers lost; the page
// reloaded, the browser killed; two pages at once. After each, the ledger holds every entry that was made, once, in the
// order in which it was made.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { after, before, beforeEach, test } from 'node:test';
import { chromium } from 'playwright-core';
import { PATIENCE, SIZES } from './support.mjs';
import { floor, idle, leave, operator, sent, terminal } from './terminal.mjs';

let m;
let browser;

before(async () => {
  ({ m, browser } = await floor());
});
after(() => leave({ m, browser }));

beforeEach(() => m.start());

const waiting = async (page) => Number(await page.getAttribute('#count', 'data-waiting'));
const shows = (page, n) =>
  page.waitForFunction((k) => document.querySelector('#count')?.dataset.waiting === String(k), n);

/** What the terminal itself holds of its entries, taken or not. */
const held = (page) =>
  page.evaluate(
    () =>
      new Promise((resolve, reject) => {
        const ask = indexedDB.open('kinwire-terminal', 1);
        ask.onerror = () => reject(ask.error);
        ask.onsuccess = () => {
          const tx = ask.result.transaction(['waiting', 'done'], 'readonly');
          const [a, b] = [tx.objectStore('waiting').getAll(), tx.objectStore('done').getAll()];
          tx.oncomplete = () => resolve({ waiting: a.result, done: b.result });
        };
      }),
  );

/** Every key the terminal made is in the ledger once, in the order in which they were made. */
async function compare(page) {
  const { waiting: wait, done } = await held(page);
  assert.deepEqual(
    wait.map((r) => r.say?.text),
    [],
  );
  const made = done
    .filter((r) => !r.dropped)
    .sort((a, b) => a.made - b.made)
    .map((r) => r.key);
  const ledger = (await m.entries()).map((e) => e.key);
  assert.equal(new Set(ledger).size, ledger.length, 'a key is in the ledger twice');
  assert.deepEqual(
    ledger.filter((k) => made.includes(k)),
    made,
    'order, or an entry lost',
  );
  return made.length;
}

/** The worker that keeps the page has its files, and this page is its own. */
async function kept(page) {
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller);
  await page.waitForFunction(async () => (await (await caches.open('kinwire-shell')).keys()).length > 30);
  await page.reload();
  await page.waitForSelector('#work .run, #work article');
}

async function begun(page, machine, coil) {
  const op = operator(page);
  await op.tap('#start');
  await op.scan(machine);
  await op.type('[data-name=out_um]', '2.4');
  await op.tap('#ask button[type=submit]');
  await op.scan(coil);
  return op;
}

test('server stopped: the terminal goes on, outlasts a reload, and catches up', async () => {
  const page = await terminal(browser, 'desk', m.url, 'drawing');
  await kept(page);
  const op = await begun(page, 'BLOCK-1', 'RC-1');
  await op.scan('Q-1');
  await op.figure('1000');
  await sent(page);
  await m.stop();
  for (const n of [2, 3, 4]) {
    await op.tap('text=Take off');
    await op.figure(`${n}000`);
    if (n === 2) assert.match(await page.textContent('#said'), /Not checked/);
  }
  await shows(page, 3);
  assert.match(await page.textContent('#link'), /No server/);
  assert.match(await page.textContent('.made'), /10,000\sm/, 'the run goes on without the server');
  await page.reload();
  await page.waitForSelector('.made');
  await shows(page, 3);
  await page.waitForFunction(() => /10,000\sm/.test(document.querySelector('.made')?.textContent));
  await op.tap('text=Take off');
  await op.figure('500');
  await shows(page, 4);
  await m.start();
  await sent(page);
  const run = await page.textContent('#run-title .code');
  const doffs = (await m.entries()).filter((e) => e.kind === 'doff' && e.body.run === run);
  assert.deepEqual(
    doffs.map((e) => e.body.length_mm),
    [1000000, 2000000, 3000000, 4000000, 500000],
  );
  assert.ok((await compare(page)) >= 7);
  assert.deepEqual(page.complaints, []);
  await page.context().close();
});

test('server killed and started again while entries go out: none lost, none twice', async () => {
  const page = await terminal(browser, 'desk', m.url, 'goods-in', { name: 'TERM-K' });
  const op = operator(page);
  await op.scan('HEAT-K');
  await op.type('[data-name=supplier]', 'Northmark Steel');
  await op.type('[data-name=grade]', 'C82D');
  await op.type('[data-name=diameter_um]', '5.5');
  await op.tap('#ask button[type=submit]');
  for (let i = 1; i <= 24; i += 1) {
    await op.scan(`K-${i}`);
    await op.figure(String(1900 + i));
    if (i % 8 === 3) await m.kill();
    if (i % 8 === 6) await m.start();
  }
  await sent(page);
  assert.equal(await compare(page), 25);
  for (const i of [1, 12, 24]) assert.equal((await m.get(`/api/lots/K-${i}`)).mass_g, (1900 + i) * 1000);
  await page.context().close();
});

test('an answer that was lost: the entry is sent again under its key and is there once', async () => {
  const page = await terminal(browser, 'desk', m.url, 'stores', { name: 'TERM-L' });
  let lose = 2;
  await page.route('**/api/entries', async (route) => {
    if (lose <= 0) return route.continue();
    lose -= 1;
    await route.fetch();
    return route.abort('connectionreset');
  });
  const op = operator(page);
  await op.scan('ST-1');
  await op.tap('text=Move to');
  await op.type('[data-name=location]', 'RACK 9');
  await op.tap('#ask button[type=submit]');
  await sent(page);
  assert.equal(lose, 0);
  assert.equal((await m.entries()).filter((e) => e.body.location === 'RACK 9').length, 1);
  assert.equal(await compare(page), 1);
  await page.context().close();
});

test('what comes back can be put right, what builds on it waits for it, and it can be dropped', async () => {
  const page = await terminal(browser, 'desk', m.url, 'drawing', { name: 'TERM-B' });
  await kept(page);
  const op = await begun(page, 'BLOCK-2', 'RC-2');
  await sent(page);
  await m.stop();
  await op.scan('B-1');
  if (await page.locator('body.asking .options').count()) await op.tap('text=A fresh label');
  await op.figure('1000');
  await op.tap('text=Take off');
  await op.figure('2000');
  await shows(page, 2);
  await m.load({
    kind: 'receive',
    body: { lot: 'B-1', heat: 'H-100', kind: 'bobbin', diameter_um: 2400, length_mm: 5 },
  });
  await m.start();
  await page.waitForSelector('.back');
  await page.waitForFunction(() => document.querySelector('#count').dataset.back === '1');
  assert.match(await page.textContent('.back'), /code is taken/i);
  assert.match(await page.textContent('.back'), /1 entry of the same run waits/);
  assert.equal(await waiting(page), 1, 'what builds on it waits');
  await page.reload();
  await page.waitForSelector('.back');
  await op.tap('text=Put it right');
  await page.fill('[data-path="/lot"]', 'B-2');
  await op.tap('text=Send it again');
  await sent(page);
  await page.waitForFunction(() => document.querySelector('#count').dataset.back === '0');
  const run = await page.textContent('#run-title .code');
  const doffs = (await m.entries()).filter((e) => e.kind === 'doff' && e.body.run === run);
  assert.deepEqual(
    doffs.map((e) => [e.body.lot, e.body.length_mm]),
    [
      ['B-2', 1000000],
      [`${run}-01`, 2000000],
    ],
  );
  await compare(page);
  await page.context().close();
});

test('two pages of one terminal: each entry is sent once', async () => {
  const one = await terminal(browser, 'desk', m.url, 'stores', { name: 'TERM-2' });
  const two = await terminal(browser, 'hand', m.url, 'stores', { context: one.context() });
  await kept(one);
  await m.stop();
  const answers = [];
  const moves = async (page, from) => {
    const op = operator(page);
    for (let i = from; i < from + 3; i += 1) {
      await op.scan(`ST-${i}`);
      await op.tap('text=Move to');
      await op.type('[data-name=location]', `PLACE ${i}`);
      await op.tap('#ask button[type=submit]');
    }
  };
  await moves(one, 2);
  await moves(two, 5);
  await shows(one, 6);
  await shows(two, 6);
  one.context().on('response', (r) => {
    if (r.request().method() === 'POST' && r.url().endsWith('/api/entries')) answers.push(r.status());
  });
  await m.start();
  await sent(one);
  await sent(two);
  assert.equal(await compare(one), 6);
  assert.deepEqual(answers.filter((status) => status === 201).length, 6, `${answers}`);
  assert.ok(answers.length <= 7, `${answers}`);
  await one.context().close();
});

test('the browser killed with entries waiting: they are there afterwards, and go out', async () => {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'kinwire-profile-'));
  const launch = () =>
    chromium.launchPersistentContext(folder, {
      timeout: PATIENCE,
      executablePath: '/usr/bin/chromium',
      viewport: { width: 1280, height: 800 },
      args: ['--headless', '--no-sandbox', '--disable-gpu', '--no-first-run'],
    });
  let context = await launch();
  context.setDefaultTimeout(PATIENCE);
  const page = await terminal(browser, 'desk', m.url, 'stores', { context, name: 'TERM-X' });
  await kept(page);
  await m.stop();
  const op = operator(page);
  await op.scan('BB-30');
  await op.scan('BB-31');
  await op.tap('text=Move to');
  await op.type('[data-name=location]', 'RACK 77');
  await op.tap('#ask button[type=submit]');
  await shows(page, 1);
  const key = (await held(page)).waiting[0].key;
  for (const pid of fs.readdirSync('/proc').filter((p) => /^\d+$/.test(p))) {
    try {
      if (fs.readFileSync(`/proc/${pid}/cmdline`, 'utf8').includes(folder)) process.kill(Number(pid), 'SIGKILL');
    } catch {
      /* gone already */
    }
  }
  await context.close().catch(() => {});
  context = await launch();
  context.setDefaultTimeout(PATIENCE);
  const back = await context.newPage();
  await back.goto(`${m.url}/shop.html`);
  await back.waitForSelector('#count');
  await shows(back, 1);
  await m.start();
  await sent(back);
  assert.equal((await m.entries()).filter((e) => e.key === key).length, 1);
  assert.equal((await m.get('/api/lots/BB-31')).location, 'RACK 77');
  assert.equal((await m.entries()).find((e) => e.key === key).terminal, 'TERM-X');
  await context.close();
  fs.rmSync(folder, { recursive: true, force: true });
});

test('a lot seen before is known without the server', async () => {
  const page = await terminal(browser, 'desk', m.url, 'stranding', { name: 'TERM-S' });
  await kept(page);
  const op = operator(page);
  await op.scan('BB-HELD');
  await page.keyboard.press('Escape');
  await m.stop();
  await op.scan('BB-HELD');
  assert.match(await page.textContent('#stop-why'), /Torsions failed/);
  await page.keyboard.press('Escape');
  await m.start();
  await idle(page);
  await page.context().close();
});

test('a server that hangs holds nobody up, and each entry is there once when it goes on', async (t) => {
  const context = await browser.newContext({ viewport: SIZES.desk, locale: 'en-GB', hasty: true });
  const page = await terminal(browser, 'desk', m.url, 'drawing', { context, name: 'TERM-H' });
  await kept(page);
  const op = await begun(page, 'BLOCK-9', 'RC-9');
  await sent(page);
  m.pause();
  const from = Date.now();
  for (const n of [1, 2, 3]) {
    await op.tap('text=Take off');
    await op.figure(`${n}000`);
  }
  t.diagnostic(`three packages took ${Date.now() - from} ms`); /* and they were done with before it goes on */
  assert.equal(await waiting(page), 3);
  m.resume();
  await sent(page);
  assert.equal(await compare(page), 5);
  await page.context().close();
});
