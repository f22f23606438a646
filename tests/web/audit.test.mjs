// The audit pages: what can be taken out, and a head that was kept is checked by the browser itself.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open, serve, SIZES } from './support.mjs';

let mill;
let browser;

before(async () => {
  mill = await serve(process.env.KINWIRE_DEMO);
  browser = await browse();
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

const fits = async (page, size) => {
  const width = await page.evaluate(() => document.documentElement.scrollWidth);
  assert.ok(width <= SIZES[size].width, `the page is ${width} px wide`);
  assert.deepEqual(await accessibility(page), []);
  assert.deepEqual(await complaints(page), []);
};

for (const size of Object.keys(SIZES)) {
  test(`the hub, ${size}`, async () => {
    const page = await open(browser, size, `${mill.url}/audit.html`);
    await page.waitForSelector('#note-save');
    await fits(page, size);
    await page.context().close();
  });
}

test('a table of a reel is saved, and what is refused is told', async () => {
  const page = await open(browser, 'desk', `${mill.url}/audit.html`);
  page.refusals.push(404);
  await page.fill('#take-code', 'rl-0045');
  await page.check('input[name="as"][value="csv"]');
  const saved = page.waitForEvent('download');
  await page.click('#take button[type="submit"]');
  assert.equal((await saved).suggestedFilename(), 'lot-RL-0045.csv');
  await page.fill('#take-code', 'NO-SUCH');
  await page.click('#take button[type="submit"]');
  await page.waitForFunction(() => document.querySelector('#take-wrong').textContent.includes('NO-SUCH'));
  await page.check('input[name="scope"][value="month"]');
  assert.ok(await page.isHidden('#take-code'));
  assert.ok(await page.isDisabled('input[name="as"][value="report"]'));
  await page.fill('#take-month', '2026-13');
  await page.click('#take button[type="submit"]');
  await page.waitForFunction(() => document.querySelector('#take-wrong').textContent.includes('month'));
  await page.fill('#take-month', '2026-10');
  const month = page.waitForEvent('download');
  await page.click('#take button[type="submit"]');
  assert.equal((await month).suggestedFilename(), '2026-10.csv');
  await page.check('input[name="scope"][value="times"]');
  assert.ok(await page.isHidden('#take-month'));
  await page.click('#take button[type="submit"]');
  await page.waitForFunction(() => document.querySelector('#take-wrong').textContent.includes('two times'));
  await page.fill('#take-since', '2026-10-02T06:00');
  await page.fill('#take-until', '2026-10-09T06:00');
  const week = page.waitForEvent('download');
  await page.click('#take button[type="submit"]');
  assert.equal((await week).suggestedFilename(), 'all-since-20261002T060000Z-until-20261009T060000Z.csv');
  await page.check('input[name="scope"][value="origin"]');
  assert.ok(await page.isHidden('#take-since'));
  await page.selectOption('#take-type', 'machine');
  assert.ok(await page.isVisible('#take-since'));
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a part of a lot is saved in the units of whoever asks, and what is refused is said in their language', async () => {
  const page = await open(browser, 'desk', null, { locale: 'es-ES' });
  await page.addInitScript(() => {
    localStorage.setItem('kinwire.language', 'es');
    localStorage.setItem('kinwire.units', 'us');
  });
  await page.goto(`${mill.url}/audit.html`);
  page.refusals.push(404, 422);
  await page.fill('#take-code', 'RL-0045');
  await page.check('input[name="as"][value="csv"]');
  const save = () => page.click('#take button[type="submit"]');
  const told = (what) => page.waitForFunction((text) => document.querySelector('#take-wrong').textContent.includes(text), what);
  await page.fill('#take-from', '10');
  await save();
  await told('los dos extremos');
  await page.fill('#take-to', '20,5');
  const saved = page.waitForEvent('download');
  await save();
  assert.equal((await saved).suggestedFilename(), 'lot-RL-0045-3048-6248.csv');
  await page.fill('#take-to', '200000000');
  await save();
  await told('no está en ella');
  await page.fill('#take-code', 'NO-SUCH');
  await save();
  await told('Partida NO-SUCH: no está en el libro.');
  await page.selectOption('#take-type', 'heat');
  assert.ok(await page.isHidden('#take-from'));
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a head that was kept: grown from it, another, and one that is too long', async () => {
  const page = await open(browser, 'desk', `${mill.url}/audit.html`);
  await page.waitForSelector('#note-save');
  const saved = page.waitForEvent('download');
  await page.click('#note-save');
  const head = await mill.get('/api/ledger/head');
  assert.equal((await saved).suggestedFilename(), `head-${head.size}.txt`);
  const say = async (note) => {
    await page.fill('#kept', note);
    await page.click('#kept-go');
    return page.waitForFunction(() => document.querySelector('#witness-said > *'));
  };
  const cls = () => page.getAttribute('#witness-said > *', 'class');
  for (const from of [1, 2, 7, 1024, 3001, head.size]) {
    const proof = await mill.get(`/api/ledger/proof?from=${from}&size=${head.size}`);
    await say(`kinwire head\nsize ${from}\nroot ${proof.first}\ntime 2026-11-01T00:00:00Z\n`);
    assert.equal(await cls(), 'done', `from ${from}`);
    await page.evaluate(() => document.querySelector('#witness-said').replaceChildren());
    await say(`size ${from}\nroot ${proof.first.replace(/^./, (c) => (c === '0' ? '1' : '0'))}\n`);
    assert.equal(await cls(), 'trouble', `another root at ${from}`);
    await page.evaluate(() => document.querySelector('#witness-said').replaceChildren());
  }
  await say(`size ${head.size + 1}\nroot ${head.root}\n`);
  assert.equal(await cls(), 'trouble');
  await page.evaluate(() => document.querySelector('#witness-said').replaceChildren());
  await say('nothing of the kind');
  assert.equal(await cls(), 'warn');
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('gaps: worst first, one kind, mending, both sizes', async () => {
  for (const size of Object.keys(SIZES)) {
    const page = await open(browser, size, `${mill.url}/gaps.html`);
    await page.waitForSelector('.gap-list');
    await fits(page, size);
    const answer = await mill.get('/api/gaps?kind=no-heat');
    assert.ok(answer.count > 0);
    await page.focus('.gap-kinds button[data-kind="no-heat"]');
    await page.keyboard.press('Enter');
    await page.waitForFunction(
      (n) => document.querySelectorAll('.gap-list tbody tr').length === n,
      Math.min(answer.count, 100),
    );
    const first = await page.textContent('.gap-list tbody tr');
    assert.ok(first.includes(answer.gaps[0].code), first);
    const mend = await page.getAttribute('.gap-list .mend a', 'href');
    assert.equal(mend, `log.html?kind=correct&seq=${answer.gaps[0].entry}`);
    await fits(page, size);
    await page.context().close();
  }
});

test('gaps as a table for a spreadsheet, and by other measures', async () => {
  const page = await open(browser, 'desk', `${mill.url}/gaps.html?long_m=100000`);
  await page.waitForSelector('.gap-list');
  assert.equal(await page.inputValue('#long_m'), '100000');
  const saved = page.waitForEvent('download');
  await page.click('#csv');
  assert.equal((await saved).suggestedFilename(), 'gaps.csv');
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('balance: of a heat, a run, a machine in a month and the mill, both sizes', async () => {
  const asked = ['origin=heat:48504', 'origin=run:D-0053', 'origin=machine:F-2&month=2026-09', 'of=mill'];
  for (const size of Object.keys(SIZES)) {
    for (const query of asked) {
      const page = await open(browser, size, `${mill.url}/balance.html?${query}`);
      await page.waitForSelector('.mass-flow');
      await fits(page, size);
      const answer = await mill.get(`/api/balance?${query === 'of=mill' ? '' : query}`);
      const rows = await page.locator('.mass-table tbody tr').count();
      assert.equal(rows, answer.rows.length + 3);
      const drawn = await page.locator('.mass-end').count();
      assert.ok(drawn >= 2 && drawn <= 20, `${drawn} bars`);
      await page.context().close();
    }
  }
});

test('balance: asked by the form, saved as a table', async () => {
  const page = await open(browser, 'desk', `${mill.url}/balance.html`);
  page.refusals.push(404);
  await page.check('input[name="of"][value="lot"]');
  assert.ok(await page.isHidden('#month'));
  await page.click('#ask button[type="submit"]');
  assert.ok((await page.textContent('#code-wrong')).length > 0);
  await page.fill('#code', 'rc-0081');
  await page.keyboard.press('Escape');
  await page.click('#ask button[type="submit"]');
  await page.waitForSelector('.mass-flow');
  assert.ok(page.url().includes('origin=lot%3ARC-0081'));
  const saved = page.waitForEvent('download');
  await page.click('#csv');
  assert.equal((await saved).suggestedFilename(), 'balance-lot-RC-0081.csv');
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('as it was: lot, thing and recall say so, keep to it, and lead back to now', async () => {
  const head = await mill.get('/api/ledger/head');
  const size = 3000;
  for (const viewport of Object.keys(SIZES)) {
    for (const where of ['lot.html?lot=RC-0081', 'thing.html?type=heat&code=48504', 'recall.html?origin=heat:48504']) {
      const page = await open(browser, viewport, `${mill.url}/${where}&size=${size}`);
      await page.waitForSelector('.head-line, #links-title', { state: 'attached' });
      await page.waitForFunction(() => /\d{4}/.test(document.querySelector('#past-said').textContent));
      assert.ok((await page.textContent('#past')).includes('AS IT WAS'));
      assert.equal(await page.locator('main button.stop:visible, main a[href^="log.html"]:visible').count(), 0);
      await fits(page, viewport);
      const onward = await page.getAttribute('main a[href^="lot.html"], main a[href^="thing.html"]', 'href');
      assert.ok(onward.includes(`size=${size}`), onward);
      assert.ok(!(await page.getAttribute('#past a', 'href')).includes('size='));
      await page.context().close();
    }
  }
  const page = await open(browser, 'desk', `${mill.url}/lot.html?lot=RC-0081`);
  await page.waitForSelector('.ribbon svg');
  assert.equal(await page.locator('#past').count(), 0);
  await page.click('.past-fold summary');
  await page.fill('#then', 'never');
  await page.click('.past-form button');
  assert.ok((await page.textContent('#then-wrong')).length > 0);
  await page.fill('#then', '2999-01-01');
  await page.click('.past-form button');
  await page.waitForSelector('#past');
  assert.ok(page.url().includes(`size=${head.size}`));
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

for (const [origin, direction] of [
  ['lot:RL-0045', 'back'],
  ['certificate:IC-0002', 'back'],
  ['heat:48322', 'forward'],
  ['batch:CB-001', 'forward'],
  ['run:X-0003', 'forward'],
]) {
  test(`genealogy of ${origin}: all its parts, both sizes`, async () => {
    const trace = await mill.get(`/api/trace?origin=${origin}&direction=${direction}`);
    assert.ok(trace.lots?.length > 0, JSON.stringify(trace));
    const runs = new Set(trace.lots.map((x) => x.run).filter(Boolean));
    for (const size of Object.keys(SIZES)) {
      const page = await open(browser, size, `${mill.url}/genealogy.html?origin=${origin}`);
      await page.waitForSelector('#g-head');
      await fits(page, size);
      const links = await page.locator('.contents a').evaluateAll((all) => all.map((a) => a.getAttribute('href')));
      for (const to of links) assert.equal(await page.locator(to).count(), 1, to);
      // whoever prints gets every lot and run, however long the tables are
      await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
      const text = await page.textContent('main');
      for (const row of trace.lots) assert.ok(text.includes(row.lot), row.lot);
      for (const run of runs) assert.ok(text.includes(run), run);
      assert.ok(text.includes(trace.ledger.root));
      assert.equal(await page.locator('button.rest').count(), 0);
      assert.equal(await page.locator('.genealogy-runs details:not([open])').count(), 0);
      await page.context().close();
    }
  });
}

test('genealogy: of nothing it asks, of what there is none it says so', async () => {
  const page = await open(browser, 'hand', `${mill.url}/genealogy.html`);
  await page.waitForSelector('form button[type="submit"]');
  await fits(page, 'hand');
  await page.fill('#code', 'rl-0045');
  await page.keyboard.press('Escape');
  await page.click('form button[type="submit"]');
  await page.waitForSelector('#g-head');
  assert.ok(page.url().includes('origin=lot%3ARL-0045&direction=back'), page.url());
  await page.goto(`${mill.url}/genealogy.html?origin=certificate:NO-SUCH`);
  page.refusals.push(404);
  await page.waitForSelector('.trouble');
  await page.context().close();
});
