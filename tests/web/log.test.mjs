// The forms: what is filled in is what is recorded, what is refused is said at its field, and nothing is recorded
// twice.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { browse, complaints, open, serve } from './support.mjs';
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

const box = (page, step) => page.locator(`[data-step="${step}"]`).first();

async function record(page, fill) {
  for (const [step, value] of Object.entries(fill)) {
    const field = box(page, step);
    if ((await field.evaluate((n) => n.tagName)) === 'SELECT') await field.selectOption(value);
    else await field.fill(value);
  }
  await page.click('#record');
}

const form = async (kind, query = '', size = 'desk') => {
  const page = await open(browser, size, `${mill.url}/log.html?kind=${kind}${query}`);
  await page.waitForSelector('#record');
  return page;
};

const last = async (kind) => (await mill.get(`/api/entries?kind=${kind}&limit=1`)).entries[0];

test('a heat and a receipt, in the units shown', async () => {
  const page = await form('heat');
  await record(page, { heat: 'h-c', supplier: 'Oxvale', grade: 'C86D', analysis_ppm: 'C 8600\nMn 6500' });
  await page.waitForSelector('#done');
  assert.deepEqual((await last('heat')).body, {
    analysis_ppm: { C: 8600, Mn: 6500 },
    grade: 'C86D',
    heat: 'H-C',
    supplier: 'Oxvale',
  });
  await page.goto(`${mill.url}/log.html?kind=receive`);
  await record(page, {
    lot: 'RC-9',
    heat: 'H-C',
    diameter_um: '5.5',
    length_mm: '1,234.567',
    mass_g: '230.5',
    measured_um: '5.48 5.52',
    location: 'Yard 2',
  });
  await page.waitForSelector('#done');
  const { body } = await last('receive');
  assert.deepEqual(
    [body.lot, body.diameter_um, body.length_mm, body.mass_g, body.measured_um],
    ['RC-9', 5500, 1234567, 230500, [5480, 5520]],
  );
  await Promise.all([page.waitForEvent('load'), page.click('button[title*=Feet]')]);
  await page.waitForSelector('#record');
  await record(page, { lot: 'RC-10', heat: 'H-C', diameter_um: '0.2165', length_mm: '1000', mass_g: '100' });
  await page.waitForSelector('#done');
  const us = (await last('receive')).body;
  assert.deepEqual([us.diameter_um, us.length_mm, us.mass_g], [5499, 304800, 45359]);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a run with rows added and taken away; a refusal is said at its own box', async () => {
  const page = await form('run', '', 'hand');
  page.refusals.push(409, 422);
  await record(page, { run: 'DR-9', process: 'draw', machine: 'BLOCK-3' });
  assert.match(await page.textContent('[role=alert]'), /Not recorded/);
  assert.equal(await page.evaluate(() => document.activeElement.dataset.step), 'lot');
  await page.click('text=Add a line');
  await page.click('[aria-label="Take away Line 1"]');
  await page.click('text=Add a feed');
  const feeds = page.locator('fieldset[data-step=feeds]');
  await feeds.locator('[data-step=lot]').nth(0).fill('RC-2');
  await feeds.locator('[data-step=lot]').nth(1).fill('NONE');
  await box(page, 'packages').locator('[data-step=lot]').fill('BB-90');
  await box(page, 'packages').locator('[data-step=kind]').selectOption('bobbin');
  await box(page, 'packages').locator('[data-step=length_mm]').fill('100');
  await feeds.locator('[data-step=lot]').nth(0).fill('BB-3');
  await page.click('#record');
  await page.waitForSelector('[aria-invalid=true]');
  const wrong = page.locator('[aria-invalid=true]');
  assert.equal(await wrong.count(), 1);
  assert.equal(await wrong.inputValue(), 'NONE');
  assert.ok(await wrong.evaluate((n) => n === document.activeElement));
  await page.click('[aria-label="Take away Feed 2"]');
  await page.click('#record');
  await page.waitForSelector('#done');
  const { body } = await last('run');
  assert.equal(body.run, 'DR-9');
  assert.equal(body.lines[0].feeds.length, 1);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('pressed twice, and again after an answer that was lost, it is recorded once', async () => {
  const page = await form('note', '&about=lot:BB-2');
  const before1 = (await mill.get('/api/ledger/head')).size;
  let lost = true;
  await page.route('**/api/entries', async (route) => {
    if (!lost || route.request().method() !== 'POST') return route.continue();
    lost = false;
    await route.fetch();
    return route.abort('connectionreset');
  });
  await box(page, 'text').fill('Ends rusty.');
  await page.click('#record');
  await page.waitForSelector('.trouble');
  assert.match(await page.textContent('.trouble'), /not known whether/);
  await page.evaluate(() => {
    document.getElementById('record').click();
    document.getElementById('record').click();
  });
  await page.waitForSelector('#done');
  assert.match(await page.textContent('#done'), /already recorded/);
  assert.equal((await mill.get('/api/ledger/head')).size, before1 + 1);
  await page.context().close();
});

test('hold, release, correct and void', async () => {
  const page = await form('hold', '&lot=RL-2');
  await record(page, { hold: 'HO-1', reason: 'Rust at the outer end' });
  await page.waitForSelector('#done');
  assert.deepEqual((await last('hold')).body.lots, [{ lot: 'RL-2' }]);
  await page.goto(`${mill.url}/log.html?kind=release&hold=HO-1`);
  assert.match(await page.textContent('.caution'), /competent/);
  await record(page, { disposition: 'release', reason: 'Cleaned and looked at' });
  await page.waitForSelector('#done');
  assert.equal((await last('release')).body.hold, 'HO-1');
  const test1 = await last('test');
  await page.goto(`${mill.url}/log.html?kind=correct&seq=${test1.seq}`);
  await page.waitForSelector('[data-step=results]');
  assert.equal(await page.locator('[data-step=tensile_kpa]').inputValue(), '1402');
  await page.locator('[data-step=tensile_kpa]').fill('1802');
  await page.locator('fieldset [data-step=verdict]').selectOption('pass');
  await page.locator('[data-step=reason]').first().fill('Misread');
  await page.click('#record');
  await page.waitForSelector('#done');
  const lot = await mill.get('/api/lots/BB-3');
  assert.deepEqual([lot.tests[0].verdict, lot.tests[0].results.tensile_kpa], ['pass', 1802000]);
  await page.goto(`${mill.url}/log.html?kind=void&seq=${(await last('correct')).seq}`);
  await page.waitForFunction(() => document.querySelector('.field .quiet')?.textContent.length > 0);
  await page.locator('[data-step=reason]').fill('It was right before');
  page.refusals.push(409, 422);
  await page.click('#record');
  await page.waitForSelector('#done, .trouble');
  await page.context().close();
});

test('what a decision needs is asked with it: processes for rework, a grade for a regrade', async () => {
  await mill.post({ kind: 'hold', body: { hold: 'HO-R', reason: 'Rust', lots: [{ lot: 'BB-3' }, { lot: 'BB-2' }] } });
  const page = await form('release', '&hold=HO-R');
  const into = page.locator('fieldset[data-step=into]');
  const grade = page.locator('[data-step=grade]');
  assert.ok((await into.isHidden()) && (await grade.isHidden()), 'nothing that does not belong to it');
  await record(page, { disposition: 'rework', reason: 'Clean it again' });
  await page.waitForSelector('#done, .trouble');
  assert.equal((await last('release')).body.into, undefined, 'none ticked');
  await mill.post({ kind: 'hold', body: { hold: 'HO-S', reason: 'Scale', lots: [{ lot: 'BB-3' }] } });
  await page.goto(`${mill.url}/log.html?kind=release&hold=HO-S`);
  await box(page, 'disposition').selectOption('rework');
  await into.getByLabel('cleaning').check();
  await into.getByLabel('drawing').check();
  await record(page, { reason: 'Clean and draw it again' });
  await page.waitForSelector('#done');
  assert.deepEqual((await last('release')).body.into, ['clean', 'draw']);
  const { seq } = await last('release');
  await page.goto(`${mill.url}/log.html?kind=correct&seq=${seq}`);
  await page.waitForSelector('fieldset[data-step=into]');
  assert.ok(await into.getByLabel('drawing').isChecked());
  await into.getByLabel('drawing').uncheck();
  await page.locator('[data-step=reason]').first().fill('Cleaning will do');
  await page.click('#record');
  await page.waitForSelector('#done');
  assert.deepEqual((await last('correct')).body.body.into, ['clean']);
  await page.goto(`${mill.url}/log.html?kind=clear`);
  page.refusals.push(422);
  await record(page, { certificate: 'IC-9', reason: 'Looked at by the works inspector' });
  await page.waitForSelector('[data-step=certificate][aria-invalid=true]');
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('an order, an instrument and a specification are put right, and what has no field stays as it was', async () => {
  const limits = { tensile_kpa: { min: 1770000, max: 2090001 }, torsions: { min: 26 } };
  await mill.post(
    { kind: 'order', body: { order: 'SO-9', one_heat: true, diameter_um: 2400, pieces: [{ length_mm: 1000000, n: 4 }] } },
    { kind: 'instrument', body: { instrument: 'TT-9', what: 'Tester', calibrated: '2026-01-05T08:00:00Z', found: 'good' } },
    {
      kind: 'spec',
      body: {
        spec: 'W-9',
        version: 1,
        what: 'wire',
        limits,
        tests: [{ property: 'tensile_kpa', per: 'run', n: 2 }],
        heats: 'one',
        tolerance_ppm: { draw: 20000 },
      },
    },
    {
      kind: 'hold',
      body: { hold: 'HO-T', reason: 'Asked', lots: [{ lot: 'RL-2' }], question: 'heat H-A', at_size: 3, decides: 'The works manager' },
    },
  );
  const page = await form('heat');
  /* boxes that are left alone give the stored figure, whatever the units */
  await Promise.all([page.waitForEvent('load'), page.click('button[title*=Feet]')]);
  await page.waitForSelector('#record');
  const right = async (kind, change) => {
    const { seq, body } = await last(kind);
    await page.goto(`${mill.url}/log.html?kind=correct&seq=${seq}`);
    await page.waitForSelector(`fieldset[data-step=body] [data-step]`);
    const form1 = page.locator('fieldset[data-step=body]');
    await change(form1);
    await page.locator('[data-step=reason]').first().fill('Mistyped');
    await page.click('#record');
    await page.waitForSelector('#done');
    return [(await last('correct')).body.body, body];
  };
  const [order, order1] = await right('order', (f) => f.locator('[data-step=n]').fill('5'));
  assert.deepEqual(order, { ...order1, pieces: [{ length_mm: 1000000, n: 5 }] });
  const [tester, tester1] = await right('instrument', (f) => f.locator('[data-step=what]').fill('Tensile tester'));
  assert.deepEqual(tester, { ...tester1, what: 'Tensile tester' });
  const [spec, spec1] = await right('spec', (f) => f.locator('[data-step=min]').nth(1).fill('27'));
  assert.deepEqual(spec, { ...spec1, limits: { ...limits, torsions: { min: 27 } } });
  const [hold, hold1] = await right('hold', (f) => f.locator('[data-step=reason]').fill('Rust'));
  assert.deepEqual(hold, { ...hold1, reason: 'Rust' });
  const [run, run1] = await right('run', (f) => f.locator('[data-step=machine]').fill('BLOCK-4'));
  assert.deepEqual(run, { ...run1, machine: 'BLOCK-4' }, 'no diameter has drifted');
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('the steps of a run logged as it happens are put right, and what has no field stays as it was', async () => {
  const at = (i) => `2026-04-01T0${i}:00:00Z`;
  await mill.post(
    { kind: 'receive', at: at(0), body: { lot: 'BB-S1', kind: 'bobbin', heat: 'H-A', diameter_um: 1120, length_mm: 3000000 } },
    { kind: 'receive', at: at(0), body: { lot: 'BB-S2', kind: 'bobbin', heat: 'H-A', diameter_um: 1120, length_mm: 3000000 } },
    { kind: 'open', at: at(1), body: { run: 'WIND-S', process: 'wind', machine: 'WIND-1', lines: ['1'] } },
    { kind: 'load', at: at(2), body: { run: 'WIND-S', line: '1', lot: 'BB-S1' } },
    { kind: 'load', at: at(3), body: { run: 'WIND-S', line: '1', lot: 'BB-S2', join: 'weld' } },
    { kind: 'doff', at: at(4), body: { run: 'WIND-S', lot: 'BB-S3', kind: 'bobbin', length_mm: 5000000, diameter_um: 1120 } },
    { kind: 'doff', at: at(5), body: { run: 'WIND-S', scrap_mm: 40000, reason: 'end' } },
    { kind: 'close', at: at(6), body: { run: 'WIND-S', left: [{ line: '1', left_mm: 960000 }] } },
  );
  const steps = (await mill.get('/api/entries?limit=500')).entries.filter((e) => e.at.startsWith('2026-04-01')).reverse();
  const page = await open(browser, 'desk', null);
  const right = async (i, name, value) => {
    const { seq, kind } = steps[i];
    const { body } = await mill.get(`/api/entries/${seq}`);
    await page.goto(`${mill.url}/log.html?kind=correct&seq=${seq}`);
    await page.waitForSelector('fieldset[data-step=body] .fields');
    const field = page.locator(`fieldset[data-step=body] [data-step=${name}]`).last();
    await ((await field.evaluate((n) => n.matches('select'))) ? field.selectOption(value) : field.fill(value));
    await page.locator('[data-step=reason]').first().fill('Mistyped');
    await page.click('#record');
    await page.waitForSelector('#done');
    const done = (await last('correct')).body;
    assert.equal(done.entry, steps[i].key, kind);
    return [done.body, body];
  };
  assert.deepEqual(steps.slice(2).map((e) => e.kind), ['open', 'load', 'load', 'doff', 'doff', 'close']);
  const [opened, opened1] = await right(2, 'machine', 'WIND-2');
  assert.deepEqual(opened, { ...opened1, machine: 'WIND-2' });
  const [made, made1] = await right(5, 'location', 'RACK 1');
  assert.deepEqual(made, { ...made1, location: 'RACK 1' });
  const [scrapped, scrapped1] = await right(6, 'reason', 'Break');
  assert.deepEqual(scrapped, { ...scrapped1, reason: 'Break' });
  const [closed, closed1] = await right(7, 'left_mm', '950');
  assert.deepEqual(closed, { ...closed1, left: [{ line: '1', left_mm: 950000 }] });
  const [loaded, loaded1] = await right(4, 'seen_at_mm', '2995');
  assert.deepEqual(loaded, { ...loaded1, seen_at_mm: 2995000 });
  assert.equal((await mill.get('/api/lots/BB-S2')).left_mm, 950000);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('single readings, and the test that one repeats; figures as the language writes them', async () => {
  const page = await open(browser, 'hand', null, { locale: 'es-ES' });
  await page.goto(`${mill.url}/log.html?kind=test`);
  await page.waitForSelector('#record');
  await page.click('text=Añadir una propiedad');
  await box(page, 'property').selectOption('tensile_kpa');
  await page.locator('[data-step=values]').fill('1801,5 1.790 hoch');
  await record(page, { test: 'T-9', lot: 'BB-2', verdict: 'pass', retest_of: 'T-1' });
  await page.waitForSelector('[data-step=values][aria-invalid=true]');
  await page.locator('[data-step=values]').fill('1801,5 1.790');
  await page.click('#record');
  await page.waitForSelector('#done');
  const { body, seq } = await last('test');
  assert.deepEqual([body.readings, body.retest_of], [{ tensile_kpa: [1801500, 1790000] }, 'T-1']);
  await page.goto(`${mill.url}/log.html?kind=correct&seq=${seq}`);
  await page.waitForSelector('[data-step=values]');
  assert.equal(await page.inputValue('[data-step=values]'), '1801,5 1790');
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a refusal is said in Spanish, with the name that the field has there', async () => {
  const page = await open(browser, 'hand', null, { locale: 'es-ES' });
  page.refusals.push(409, 422);
  const refused = async (kind, fill) => {
    await page.goto(`${mill.url}/log.html?kind=${kind}`);
    await page.waitForSelector('#record');
    await record(page, fill);
    await page.waitForSelector('.trouble');
    const said = await page.textContent('#form');
    assert.doesNotMatch(said, /En inglés/);
    return said;
  };
  assert.match(
    await refused('heat', { heat: 'H 9', supplier: 'Oxvale', grade: 'C86D' }),
    /Colada: «H 9» no puede ser un código/,
  );
  assert.match(
    await refused('receive', { lot: 'RC-90', heat: 'H-A', diameter_um: '0,001', length_mm: '100' }),
    /Diámetro es 0,001\u00a0mm; tiene que ser de 0,01\u00a0mm a 200\u00a0mm/,
  );
  assert.match(await refused('receive', { lot: 'RC-90', heat: 'H-A', diameter_um: '5,5' }), /Dé Longitud o Masa, o los dos/);
  assert.match(
    await refused('test', { test: 'T-90', lot: 'BB-1', tensile_kpa: '1800', retest_of: 'T-1' }),
    /El ensayo T-1 se hizo en otra partida\. Se repite en la misma, BB-1/,
  );
  assert.match(await refused('batch', { batch: 'B-1', process: 'clean', machine: 'X Y' }), /Máquina: «X Y» no puede ser un código/);
  await page.context().close();
});
