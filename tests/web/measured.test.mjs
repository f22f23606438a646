// Charts, specifications, instruments and a rope's strength, by hand over the demo mill: keyboard alone where it counts.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open, serve } from './support.mjs';

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

async function at(where, size = 'desk') {
  const page = await open(browser, size, mill.url + where);
  await page.waitForLoadState('networkidle');
  return page;
}

test('a property is charted along a run, and the point beyond the limits leads to its lot', async () => {
  const page = await at('/chart.html');
  await page.selectOption('#ask-property', 'torsions');
  await page.fill('#ask-run', 'D-0118');
  await page.selectOption('#ask-by', 'place');
  await page.keyboard.press('Escape');
  await page.locator('button.main').click();
  await page.waitForSelector('.control svg');
  assert.match(await page.textContent('.headline'), /14 results of Torsions.* 1 is beyond the limits/);
  // beyond is a triangle, failed is a cross: shapes
  assert.equal(await page.locator('.control .out').count(), 3, 'the point and its two ranges');
  assert.equal(await page.locator('.control .failed').count(), 1);
  const slider = page.locator('.control-slider');
  await slider.focus();
  assert.match(await slider.getAttribute('aria-valuetext'), /^13, test T-01546 on D0118-09.*below the lower limit.*failed/);
  await slider.press('ArrowRight');
  assert.match(await slider.getAttribute('aria-valuetext'), /^32, /);
  await slider.press('Home');
  assert.equal(await slider.getAttribute('aria-valuenow'), '1');
  await slider.press('End');
  assert.equal(await slider.getAttribute('aria-valuenow'), '14');
  await page.locator('tbody tr', { hasText: 'T-01546' }).locator('a', { hasText: 'D0118-09' }).click();
  await page.waitForURL(/lot\.html\?lot=D0118-09/);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a pattern within the limits is a diamond, and is listed in words with the tests that complete it', async () => {
  const found = [];
  const ask = 'property=torsions&machine=BLOCK-5&limit=200';
  const answer = await mill.get(`/api/chart?${ask}`);
  for (const p of answer.points) if (!p.beyond && p.rules.length > 0) found.push(p);
  assert.ok(found.length > 0, 'the demo mill has one');
  const page = await at(`/chart.html?${ask}`);
  await page.waitForSelector('.control svg');
  assert.equal(await page.locator('.control .pattern').count(), found.length);
  assert.match(await page.textContent('.headline'), new RegExp(`${found.length} more completes? a pattern`));
  for (const rule of answer.chart.rules.filter((r) => r.met > 0)) {
    const row = page.locator('#patterns-title ~ div tbody tr').filter({ hasText: { '1-beyond-3-sigma': '3\u03c3', '2-of-3-beyond-2-sigma': '2\u03c3', '4-of-5-beyond-1-sigma': '1\u03c3', '8-on-one-side': '8 in a row' }[rule.rule] });
    assert.equal(await row.locator('td').first().textContent(), String(rule.met));
    assert.ok((await row.locator('a').count()) > 0);
  }
  assert.match(await page.textContent('#patterns-title ~ p'), /Western Electric/);
  assert.deepEqual(await accessibility(page), []);
  await page.context().close();
});

test('unlike products are said and told apart, and the same chart comes as CSV', async () => {
  const page = await at('/chart.html?property=tensile_kpa&limit=500');
  assert.match(await page.textContent('.warn'), /products are on this chart/);
  const href = await page.locator('.actions a[download]').getAttribute('href');
  const csv = await (await fetch(mill.url + href)).text();
  assert.match(csv, /^test,lot,run,machine,/);
  assert.equal(csv.trim().split('\r\n').length, 501);
  await Promise.all([page.waitForEvent('load'), page.locator('.products a').first().click()]);
  await page.waitForSelector('.control svg');
  assert.equal(await page.locator('.products').count(), 0, 'one product is left');
  await page.context().close();
});

test('figures are in US units when those are chosen', async () => {
  const page = await at('/chart.html?property=tensile_kpa&kind=bobbin&tensile_grade_kpa=1770000&diameter_from_um=1050&diameter_below_um=1051');
  await page.evaluate(() => localStorage.setItem('kinwire.units', 'us'));
  await page.reload();
  await page.waitForSelector('.control svg');
  assert.match(await page.textContent('.headline'), /mean is 27\d(\.\d+)?\sksi/);
  await page.context().close();
});

test('the next version of a specification is made from the one that stands', async () => {
  const page = await at('/specs.html?spec=W-1770-10');
  await page.locator('summary').click();
  assert.equal(await page.locator('input[readonly]').inputValue(), 'W-1770-10');
  const torsions = page.locator('.row-of', { hasText: 'Least' }).filter({ has: page.locator('option[value=torsions]:checked') });
  await torsions.locator('input').first().fill('27');
  await page.locator('button', { hasText: 'Record version 2' }).click();
  await page.waitForSelector('.versions td.changed');
  assert.match(await page.locator('.versions td.changed').first().textContent(), /at least 27/);
  const stands = (await mill.get('/api/specs')).specs.find((s) => s.spec === 'W-1770-10' && s.stands);
  assert.deepEqual(stands.limits.tensile_kpa, { min: 1770000, max: 2090000 }, 'what was not touched is the same');
  assert.equal(stands.limits.torsions.min, 27);
  assert.equal(stands.diameter_below_um, 1500);
  await page.context().close();
});

test('a test is judged by another version, and nothing is changed', async () => {
  const page = await at('/thing.html?type=test&code=T-01158');
  await page.waitForSelector('#judge-by option', { state: 'attached' });
  await page.selectOption('#judge-by', 'W-1770-10 1');
  await page.locator('button', { hasText: 'Judge' }).click();
  await page.waitForSelector('#judge-title ~ div .headline');
  assert.match(await page.textContent('#judge-title ~ div .headline'), /would fail/);
  await page.context().close();
});

test('an instrument found bad gives the recall its window', async () => {
  const page = await at('/instruments.html?instrument=TT-2');
  await page.locator('a', { hasText: 'Recall what was measured' }).click();
  await page.waitForSelector('#headline');
  assert.match(page.url(), /since=2026-10-18T22%3A00%3A00Z&until=2026-10-22T06%3A00%3A00Z/);
  await page.context().close();
});

test('a failed test says by how much, and leads to its retest', async () => {
  const page = await at('/thing.html?type=test&code=T-01158');
  const sheet = page.locator('#judge-title ~ div[aria-live]');
  await sheet.getByText('Record a retest').waitFor();
  assert.match(await sheet.textContent(), /W-1770-10.*Torsions8at least 25✕ 17 beyond/s);
  assert.equal(await page.inputValue('#judge-by'), 'W-1770-10 1', 'the one that judged it');
  await sheet.getByText('Record a retest').click();
  await page.waitForURL(/log\.html\?kind=test&lot=D0091-15&retest_of=T-01158/);
  await page.context().close();
});

test('what the server says of a lot is in the reader’s language and units', async () => {
  const page = await at('/index.html');
  await page.evaluate(() => {
    localStorage.setItem('kinwire.units', 'us');
    localStorage.setItem('kinwire.language', 'es');
  });
  await page.goto(`${mill.url}/thing.html?type=heat&code=48504`);
  const link = page.locator('.links li', { hasText: 'RC-0155' });
  await link.waitFor();
  assert.match(await link.textContent(), /RC-0155 alambrón, 16\.586\sft/);
  await page.context().close();
});

test('a strength that lacks tests names the wires that have none', async () => {
  const s = await mill.get('/api/lots/RL-0774/strength');
  const none = s.wires.filter((w) => w.breaking_n === null).map((w) => w.lot);
  assert.ok(none.length > 0);
  const page = await at('/lot.html?lot=RL-0774');
  const words = page.locator('#strength-title + div p', { hasText: 'No test of breaking force' });
  await words.waitFor();
  for (const lot of none.slice(0, 12)) assert.ok((await words.textContent()).includes(lot), lot);
  await page.context().close();
});

test('a gap of calibration leads to the form, also for an instrument that only tests have named', async () => {
  await mill.post({ kind: 'test', body: { test: 'T-GAUGE', lot: 'RL-0774', instrument: 'GAUGE-9', results: { breaking_n: 400000 } } });
  const page = await at('/gaps.html');
  await page.locator('.gap-kinds button[data-kind=calibration]').click();
  const link = page.locator('a[href*="instrument=GAUGE-9"]', { hasText: 'Record a calibration' });
  await link.waitFor();
  page.refusals = [404];
  await link.click();
  await page.waitForSelector('#cal-what:focus');
  assert.match(await page.textContent('main'), /Tests name GAUGE-9, but nothing is recorded of it yet/);
  assert.equal(await page.inputValue('#cal-instrument'), 'GAUGE-9');
  await page.keyboard.type('Cable gauge, 50 kN');
  await page.locator('#record button').click();
  await page.waitForSelector('#one-title');
  assert.equal((await mill.get('/api/instruments/GAUGE-9')).what, 'Cable gauge, 50 kN');
  assert.deepEqual(await accessibility(page), []);
  await page.context().close();
});

test('a calibration is recorded, found bad', async () => {
  const page = await at('/instruments.html?instrument=ZN-1');
  await page.locator('summary').click();
  await page.locator('input[value=bad]').check();
  await page.locator('button', { hasText: 'Record' }).click();
  await page.waitForSelector('.lifeline .bad[d*="45L"]'); // on the line over time, not in the legend

  const one = await mill.get('/api/instruments/ZN-1');
  assert.equal(one.calibrations.at(-1).found, 'bad');
  assert.equal(one.calibrations.at(-1).doubtful.until, null);
  await page.context().close();
});

test('a reel shows its strength, its joints by strand, and the order that asks for their distance', async () => {
  const page = await at('/lot.html?lot=RL-0774');
  await page.waitForSelector('#strength-title + div table');
  assert.match(await page.textContent('#strength-title + div'), /Minimum breaking force, grade 1960.*338/s);
  assert.match(await page.textContent('#joints-title ~ p >> nth=1'), /Order SO-7302 asks for at least 600.mm/);
  assert.deepEqual(await accessibility(page), []);
  await page.context().close();
});

test('a retest stands beside the test that it repeats', async () => {
  const page = await at('/lot.html?lot=RL-0797');
  const row = page.locator('tbody tr', { hasText: 'T-90002' });
  assert.match(await row.textContent(), /passed.*Retest of\s*T-90001/s);
  assert.match(await page.locator('tbody tr', { hasText: 'T-90001' }).first().textContent(), /failed/);
  await page.context().close();
});
