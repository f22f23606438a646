// A recall from the suspicion to the hold, by keyboard alone; and what the answer says.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open, serve } from './support.mjs';
import { smallMill } from './mill.mjs';

let mill;
let browser;

before(async () => {
  mill = await serve(smallMill());
  browser = await browse();
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

/** Tab until the focus is on what fits `selector`. */
async function tabTo(page, selector) {
  for (let i = 0; i < 60; i += 1) {
    if (await page.evaluate((s) => document.activeElement?.matches(s), selector)) return;
    await page.keyboard.press('Tab');
  }
  assert.fail(`no way to ${selector} by Tab`);
}

test('type, choose, ask, hold: by keyboard alone', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html`);
  await page.waitForSelector('#code');
  await tabTo(page, '#code');
  await page.keyboard.type('h-');
  await page.waitForSelector('[role=listbox]:not([hidden]) [role=option]');
  await page.keyboard.press('ArrowDown');
  assert.equal((await page.getAttribute('#code', 'aria-activedescendant')) !== null, true);
  await page.keyboard.press('Enter');
  assert.equal(await page.inputValue('#code'), 'H-A');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#answer[data-complete]');
  assert.match(await page.textContent('#question-title'), /Heat H-A: What did it touch\?/);
  assert.match(page.url(), /origin=heat%3AH-A&direction=forward/);
  await tabTo(page, '#hold-all');
  await page.keyboard.press('Enter');
  await page.waitForSelector('dialog[open]');
  assert.deepEqual(await accessibility(page), []);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'hold-reason');
  await tabTo(page, 'dialog button[type=submit]');
  await page.keyboard.press('Enter');
  await page.waitForSelector('dialog .done');
  await page.keyboard.press('Enter');
  await page.waitForSelector('dialog', { state: 'detached' });
  const { holds } = await mill.get('/api/holds');
  assert.equal(holds.length, 1);
  assert.deepEqual(holds[0].lots.map((l) => [l.lot, l.open_spans]).sort(), [
    ['BB-2', [[0, 10300000]]],
    ['RL-2', [[0, 10000000]]],
  ]);
  await page.waitForFunction(() => document.querySelectorAll('.lots .state.on-hold').length === 2);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('the answer in words, drawn and as a table', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=heat:H-A`);
  await page.waitForSelector('#answer[data-complete]');
  const said = await page.textContent('.headline');
  assert.match(said, /Heat H-A touched 6 lots: 2 reels, all of them certain, 19,000\sm/);
  const stages = await page.locator('.flow-stages b').allTextContents();
  assert.deepEqual(stages, ['rod', 'bobbin', 'strand', 'reel']);
  const row = page.locator('tr.lot-row', { hasText: 'BB-2' });
  assert.match(
    await row.locator('svg').getAttribute('aria-label'),
    /certain 0\.000 to 9,700\.000\sm; possible 0\.000 to 10,300\.000\sm/,
  );
  assert.match(await page.textContent('[aria-labelledby=out-title]'), /Alder Lifts.*RL-1/s);
  await page.locator('.flow-stages button', { hasText: 'reel' }).click();
  await page.waitForFunction(() => document.querySelectorAll('tr.lot-row').length === 2);
  await page.context().close();
});

test('part of a lot, and which way, are in the address; a shared address asks the same', async () => {
  const page = await open(browser, 'hand', `${mill.url}/recall.html`);
  await page.check('input[value=lot]');
  await page.fill('#code', 'rc-1');
  await page.fill('#from', '0');
  await page.fill('#to', '1,000');
  await page.click('button[type=submit]');
  await page.waitForSelector('#answer[data-complete]');
  assert.match(page.url(), /origin=lot%3ARC-1&direction=forward&from_mm=0&to_mm=1000000/);
  const again = await open(browser, 'hand', page.url());
  await again.waitForSelector('#answer[data-complete]');
  assert.equal(await again.textContent('.headline'), await page.textContent('.headline'));
  await page.context().close();
  await again.context().close();
});

test('a window of time is asked in UTC', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html`, { timezoneId: 'America/New_York' });
  await page.check('input[value=instrument]');
  await page.fill('#code', 'TT-2');
  await page.fill('#since', '2026-02-03T05:00');
  await page.fill('#until', '2026-02-04T05:00');
  await page.click('button[type=submit]');
  await page.waitForSelector('#answer[data-complete]');
  assert.match(page.url(), /since=2026-02-03T05%3A00%3A00Z&until=2026-02-04T05%3A00%3A00Z/);
  assert.match(await page.textContent('.headline'), /Instrument TT-2 touched/);
  await page.context().close();
});

test('an unknown code is said, and the question stays', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=heat:NONE`);
  page.refusals.push(404, 422);
  await page.waitForSelector('.trouble');
  assert.ok(await page.locator('#code').isVisible());
  assert.equal(await page.inputValue('#code'), 'NONE');
  await page.context().close();
});

test('saved as CSV, printed whole', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=heat:H-A`);
  await page.waitForSelector('#answer[data-complete]');
  const [saved] = await Promise.all([page.waitForEvent('download'), page.click('#csv')]);
  const text = fs.readFileSync(await saved.path(), 'utf8');
  assert.equal(text.trim().split('\r\n').length, 7);
  assert.match(saved.suggestedFilename(), /^recall-heat-H-A\.csv$/);
  await page.emulateMedia({ media: 'print' });
  assert.equal(await page.locator('#frame nav').isVisible(), false);
  const pdf = await page.pdf();
  assert.ok(pdf.length > 2000);
  await page.context().close();
});

test('feet and pounds, kept', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=heat:H-A`);
  await page.waitForSelector('#answer[data-complete]');
  await Promise.all([page.waitForEvent('load'), page.click('button[title*=Feet]')]);
  await page.waitForSelector('#answer[data-complete]');
  // 19,000 m / 0.3048
  assert.match(await page.textContent('.headline'), /62,336\sft/);
  await page.goto(`${mill.url}/lot.html?lot=BB-2`);
  await page.waitForSelector('.ribbon svg');
  assert.match(await page.textContent('.facts'), /65,616\.798\sft/);
  await page.context().close();
});

test('the reading line says what is at a place', async () => {
  const page = await open(browser, 'desk', `${mill.url}/lot.html?lot=BB-2`);
  await page.waitForSelector('.ribbon svg');
  const line = page.locator('[role=slider]');
  await line.focus();
  await page.keyboard.press('Home');
  assert.match(await line.getAttribute('aria-valuetext'), /surely H-A/);
  await page.keyboard.press('End');
  assert.match(await line.getAttribute('aria-valuetext'), /surely H-B/);
  await page.keyboard.press('Home');
  await page.keyboard.press('ArrowRight');
  assert.equal(await line.getAttribute('aria-valuenow'), '9700000');
  assert.match(await line.getAttribute('aria-valuetext'), /perhaps H-B.*joint W-1/s);
  await page.context().close();
});

test('a hold whose code is taken is refused at its box, and recorded once under another', async () => {
  await mill.post({ kind: 'hold', body: { hold: 'HO-TAKEN', reason: 'Another', lots: [{ lot: 'BB-3' }] } });
  const page = await open(browser, 'hand', `${mill.url}/recall.html?origin=lot:BB-3`);
  page.refusals.push(409);
  await page.waitForSelector('#answer[data-complete]');
  await page.click('#hold-all');
  await page.fill('#hold-code', 'HO-TAKEN');
  await page.click('dialog button[type=submit]');
  await page.waitForSelector('dialog .trouble');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'hold-code');
  assert.equal(await page.getAttribute('#hold-code', 'aria-invalid'), 'true');
  const size = (await mill.get('/api/ledger/head')).size;
  await page.fill('#hold-code', 'HO-FREE');
  await page.click('dialog button[type=submit]');
  await page.waitForSelector('dialog .done');
  assert.equal((await mill.get('/api/ledger/head')).size, size + 1);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('what a reel is made of begins at its heats', async () => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=lot:RL-1&direction=back`);
  await page.waitForSelector('#answer[data-complete]');
  assert.match(await page.textContent('.headline'), /Lot RL-1 is made of 4 lots: 1 rod coil, certain/);
  assert.match(await page.textContent('[aria-labelledby=heats-title]'), /1 heat reached.*H-A/s);
  await page.context().close();
});

test('of a machine whose whole time is too much for one answer, shorter times are offered', async () => {
  const page = await open(browser, 'desk', `${mill.url}/`);
  const refused = {
    type: 'https://kinwire.example/problems/too-large', title: 'Too large', status: 413, detail: 'too much',
    values: { sentence: 'lots', most: 250000 },
  };
  await page.route('**/api/trace?*', (route) =>
    route.request().url().includes('since=')
      ? route.continue()
      : route.fulfill({ status: 413, contentType: 'application/problem+json', body: JSON.stringify(refused) }));
  await page.goto(`${mill.url}/recall.html?origin=machine%3ABLOCK-1&direction=forward`);
  await page.waitForSelector('.windows a');
  assert.deepEqual(await page.$$eval('.windows a', (links) => links.map((a) => a.textContent)),
    ['The last 7 days', 'The last 30 days', 'The last 90 days', 'The last 365 days']);
  assert.deepEqual(await accessibility(page), []);
  const since = new URL(await page.getAttribute('.windows li:last-child a', 'href'), mill.url).searchParams.get('since');
  assert.equal(Math.round((Date.now() - Date.parse(since)) / 86400000), 365);
  await page.click('.windows li:last-child a');
  await page.waitForFunction(() => new URLSearchParams(location.search).has('since'));
});

test('a time that is still too much is offered in halves', async () => {
  const page = await open(browser, 'desk', `${mill.url}/`);
  await page.route('**/api/trace?*', (route) =>
    route.fulfill({ status: 413, contentType: 'application/problem+json', body: '{"status":413,"title":"Too large"}' }));
  await page.goto(`${mill.url}/recall.html?origin=machine%3ABLOCK-1&since=2026-01-01T00:00:00Z&until=2026-01-11T00:00:00Z`);
  await page.waitForSelector('.windows a');
  const windows = await page.$$eval('.windows a', (links) =>
    links.map((a) => ['since', 'until'].map((name) => new URL(a.href).searchParams.get(name))));
  assert.deepEqual(windows, [['2026-01-01T00:00:00Z', '2026-01-06T00:00:00Z'], ['2026-01-06T00:00:00Z', '2026-01-11T00:00:00Z']]);
});
