// Certificates in the browser: a recall marks them everywhere, a clean reel gets one, and a figure picked at random on
// its paper is followed to its entry and that entry's proof.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open, serve } from './support.mjs';

let mill;
let browser;
let clean; // a reel that may be certified
let heat; // that lies in a certified reel

before(async () => {
  mill = await serve(process.env.KINWIRE_DEMO);
  browser = await browse();
  const ids = [];
  for (let i = 1; i < 60; i += 1) ids.push(...(await mill.get(`/api/find?q=RL-${String(i).padStart(3, '0')}`)).found);
  for (const { code } of ids.filter((f) => f.type === 'lot').reverse()) {
    const { reels } = await mill.get(`/api/certifiable?reels=${code}`);
    if (reels?.[0].complete) {
      clean = code;
      break;
    }
  }
  const { document } = await mill.get('/api/certificates/IC-0004');
  heat = document.heats[0].heat;
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

const PAGES = [
  ['a certificate', '/certificate.html?c=IC-0004', '[data-proof=good]'],
  ['certificates', '/certificates.html', '#list table'],
  ['certificates, overtaken', '/certificates.html?state=marked', '#list *'],
  ['issue, with reels', '/issue.html?reels=RL-0021', '[data-reel]'],
  ['issue, empty', '/issue.html', '#reels li'],
];
for (const [name, where, wait] of PAGES)
  for (const size of ['desk', 'hand'])
    test(`${name} at ${size}: draws, fits, is accessible`, async () => {
      const page = await open(browser, size, mill.url + where);
      await page.waitForSelector(wait);
      assert.deepEqual(await complaints(page), []);
      assert.deepEqual(await accessibility(page), []);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
      await page.context().close();
    });

test('what bars a certificate leads to what is to be done about it', async () => {
  await mill.post({ kind: 'hold', body: { hold: 'HO-NEXT', reason: 'a letter', lots: [{ lot: 'RL-0814' }] } });
  const page = await open(browser, 'desk', `${mill.url}/issue.html?reels=RL-0814`);
  const lacks = page.locator('.lacks').first();
  await lacks.getByText('Decide the hold').waitFor();
  assert.match(await lacks.getByText('Decide the hold').getAttribute('href'), /board\.html\?hold=HO-NEXT/);
  assert.match(await lacks.getByText('Issue one in its place').getAttribute('href'), /issue\.html\?reels=RL-0814&replaces=IC-0138/);
  await page.goto(`${mill.url}/issue.html?reels=RL-0803`);
  await page.getByText('Another can take its place once it is withdrawn or overtaken.').waitFor();
  assert.deepEqual(await accessibility(page), []);
  await page.context().close();
});

test('what bars a certificate is said in the reader\u2019s language and units', async () => {
  const page = await open(browser, 'desk', null, { locale: 'es-MX' });
  await page.addInitScript(() => {
    localStorage.setItem('kinwire.language', 'es');
    localStorage.setItem('kinwire.units', 'us');
  });
  page.refusals = [409];
  await mill.post({
    kind: 'hold',
    body: { hold: 'HO-FEET', reason: 'una carta', lots: [{ lot: 'RL-0813', from_mm: 3048, to_mm: 30480 }] },
  });
  await page.goto(`${mill.url}/issue.html?reels=RL-0813`);
  const lacks = page.locator('[data-reel=RL-0813] .lacks').first();
  await lacks.getByText('RL-0813 está en la retención HO-FEET de 10.000\u00a0ft a 100.000\u00a0ft y no puede certificarse: una carta').waitFor();
  const all = await page.evaluate(() => [...document.querySelectorAll('.lacks > li')].map((li) => li.textContent));
  for (const text of all) assert.doesNotMatch(text, /\bmm\b| is | are | stands |which/, text);
  /* What the entry is refused for is the same. */
  const refused = await page.evaluate(async (reel) => {
    const { problemText } = await import('./said.js');
    const { append, newKey } = await import('./api.js');
    const body = { certificate: 'IC-FEET', type: '3.1', reels: [reel] };
    return append({ key: newKey(), kind: 'certify', body }).then(String, (problem) => [problem.slug, problemText(problem)]);
  }, 'RL-0803');
  assert.equal(refused[0], 'not-complete');
  assert.match(refused[1], /^El certificado IC-\d+ de tipo 3\.1 ya está en vigor para RL-0803\./);
  assert.deepEqual(await complaints(page), []);
  assert.deepEqual(await accessibility(page), []);
  await page.context().close();
});

test('the page draws what the proved entry says, and finds a document that was tampered with', async () => {
  const page = await open(browser, 'desk', null);
  await page.route('**/api/entries/*', async (route) => {
    const answer = await route.fetch();
    await route.fulfill({ response: answer, body: (await answer.text()).replaceAll('Overwater', 'Underwater') });
  });
  await page.goto(`${mill.url}/certificate.html?c=IC-0004`);
  await page.waitForSelector('[data-proof=bad]');
  await page.context().close();
});

test('all that is missing has a link; nothing is issued before it is there', async () => {
  const page = await open(browser, 'desk', `${mill.url}/issue.html`);
  await page.fill('#scan', 'rl-0021');
  await page.press('#scan', 'Enter');
  await page.waitForSelector('[data-reel=RL-0021] .lacks');
  assert.match(await page.textContent('[data-reel=RL-0021]'), /Certified already.*IC-0004/s);
  assert.equal(await page.isDisabled('#go'), true);
  await page.click('[data-reel=RL-0021] .lacks a');
  await page.waitForSelector('[data-proof=good]');
  assert.match(page.url(), /certificate\.html\?c=IC-0004$/);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a clean reel: issued with the keyboard alone, printed, a figure followed to its entry and proof', async (context) => {
  assert.ok(clean, 'the demo mill has no reel that may be certified');
  const page = await open(browser, 'desk', `${mill.url}/quality.html`);
  await page.click('a.tile[href="issue.html"]');
  await page.waitForSelector('#reels li');
  await page.keyboard.type(clean);
  await page.keyboard.press('Enter');
  await page.waitForSelector(`[data-reel="${clean}"] .verdict.pass`);
  assert.match(await page.inputValue('#number'), /^IC-\d{4}$/);
  await page.focus('#statement');
  await page.keyboard.type('as ordered');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Control+A');
  await page.keyboard.type('Anna Berg');
  await page.keyboard.press('Tab');
  await page.keyboard.type('inspection representative');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#said .done');
  await page.keyboard.press('Enter'); // the link to it has the focus
  await page.waitForSelector('[data-proof=good]');
  assert.match(await page.textContent('#paper'), new RegExp(`${clean}.*as ordered.*Anna Berg`, 's'));
  assert.deepEqual(await complaints(page), []);

  const paper = path.join(fs.mkdtempSync(path.join(os.tmpdir(), 'kinwire-paper-')), 'paper.pdf');
  const answer = await page.request.get(mill.url + (await page.getAttribute('#pdf', 'href')));
  fs.writeFileSync(paper, await answer.body());
  const text = spawnSync('pdftotext', ['-layout', paper, '-'], { encoding: 'utf8' });
  fs.rmSync(path.dirname(paper), { recursive: true });
  if (text.error) return context.skip('pdftotext is not here');
  // Rows of the tests: a code, where, what, the figure; and the number of the entry at the end.
  const rows = [...text.stdout.matchAll(/^\s*(T-\d+)\s.*#(\d+)\s*$/gm)];
  assert.ok(rows.length > 0, text.stdout);
  const [, code, seq] = rows[Math.floor(Math.random() * rows.length)];
  await page.goto(`${mill.url}/ledger.html?seq=${seq}`);
  await page.waitForSelector('#entries .inside');
  assert.match(await page.textContent('#entries .inside'), new RegExp(code));
  await page.click('text=Prove it is under the head');
  await page.waitForSelector('#entries .done');
  assert.match(await page.textContent('#entries .done'), new RegExp(`Entry ${Number(seq).toLocaleString('en-US')}|Entry ${seq}`));
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
  return undefined;
});

test('a recall marks every certificate it reaches, until it is cleared or withdrawn', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=heat:${heat}&direction=forward`);
  await page.waitForSelector('#papers [data-state=stands]');
  const head = await mill.get('/api/ledger/head');
  await mill.post({
    kind: 'hold',
    body: {
      hold: 'HD-LETTER',
      reason: 'a letter about the heat',
      lots: ['RL-0021'],
      trace: { origin: `heat:${heat}`, direction: 'forward', ...head },
    },
  });
  await page.reload();
  await page.waitForSelector('#papers [data-state=marked]');
  assert.equal(await page.locator('#papers [data-state=stands]').count(), 0);

  await page.goto(`${mill.url}/lot.html?lot=RL-0021`);
  await page.waitForSelector('[data-state=marked]');
  await page.goto(`${mill.url}/?q=IC-000`);
  await page.waitForSelector('#found [data-state=marked]');
  await page.goto(`${mill.url}/certificates.html`);
  await page.waitForSelector('#list [data-state=marked]');
  await Promise.all([page.waitForEvent('load'), page.click('a[href="certificates.html?state=marked"]')]);
  await page.waitForSelector('#list .marks');
  assert.equal(await page.locator('#list [data-state=stands]').count(), 0);
  await page.goto(`${mill.url}/certificate.html?c=IC-0004`);
  await page.waitForSelector('#standing .trouble');
  assert.match(await page.textContent('#standing'), /Recalled:/);
  assert.deepEqual(await accessibility(page), []);
  await page.click('#clear');
  await page.keyboard.type('samples of the reels are sound');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForSelector('.title [data-state=stands]');
  await page.click('#standing summary');
  assert.match(await page.textContent('#standing'), /samples of the reels are sound/);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});
