// The shop terminal as a new operator meets it: the jobs of a shift by scan, one figure, confirm, with what each takes
// counted; guard rails, undo, languages and units; at the size of a fixed screen and of a hand-held.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility } from './support.mjs';
import { floor, idle, leave, operator, sent, terminal } from './terminal.mjs';

let m;
let browser;

before(async () => {
  ({ m, browser } = await floor());
});
after(() => leave({ m, browser }));

const quiet = async (page) => {
  assert.deepEqual([...page.complaints, ...(await page.evaluate(() => window.breaches))], []);
  await page.context().close();
};
const text = (page, what) => page.textContent(what);
const report = (t, job, size, op) => t.diagnostic(`${job}, ${size}: ${op.said()}`);

for (const size of ['desk', 'hand']) {
  const S = size === 'desk' ? 'D' : 'H';

  test(`goods-in of ten coils, ${size}`, async (t) => {
    const page = await terminal(browser, size, m.url, 'goods-in');
    const op = operator(page);
    await op.scan(`HEAT-${S}`);
    await op.type('[data-name=supplier]', 'Northmark Steel');
    await op.type('[data-name=grade]', 'C82D');
    await op.type('[data-name=diameter_um]', '5.5');
    await op.tap('#ask button[type=submit]');
    for (let i = 1; i <= 10; i += 1) {
      await op.scan(`G${S}-${i}`);
      await op.figure(String(1980 + i));
    }
    await sent(page);
    report(t, 'goods-in of ten coils', size, op);
    const last = await m.get(`/api/lots/G${S}-10`);
    assert.equal(last.mass_g, 1990000);
    assert.equal(last.heat, `HEAT-${S}`);
    assert.equal(op.count.scans, 11);
    assert.ok(op.count.taps <= 11);
    await op.scan(`G${S}-3`);
    assert.match(await text(page, '#stop'), /STOP/);
    await quiet(page);
  });

  test(`a drawing run of 5 coils to 12 bobbins with a break and welds, ${size}`, async (t) => {
    const page = await terminal(browser, size, m.url, 'drawing');
    const op = operator(page);
    const machine = `BLOCK-${S}`;
    const coil = (i) => `RC-${size === 'desk' ? i : i + 5}`;
    await op.scan(coil(1));
    await op.scan(machine);
    await op.figure('');
    await op.type('[data-name=out_um]', '2.4');
    await op.tap('#ask button[type=submit]');
    const run = await text(page, '#run-title .code');
    let made = 0;
    for (let i = 1; i <= 12; i += 1) {
      if (i % 3 === 0 && i < 12) {
        await op.scan(coil(1 + i / 3));
        await op.figure(String(made + 1000));
      }
      if (i === 7) {
        await op.tap('text=Scrap');
        await op.figure('120');
        made += 120;
      }
      await op.scan(`D${S}-${i}`);
      await op.figure('22000');
      made += 22000;
    }
    await op.scan(coil(5));
    await op.figure(String(made - 20000));
    await op.tap('text=Close the run');
    await op.figure('');
    if (await page.locator('.warn-big').count()) await op.tap('.options button');
    await sent(page);
    report(t, 'drawing, 5 coils to 12 bobbins', size, op);
    const mine = (await m.entries()).filter((e) => e.body.run === run);
    assert.deepEqual(
      [
        mine.filter((e) => e.kind === 'load').length,
        mine.filter((e) => e.kind === 'doff').length,
        mine.filter((e) => e.kind === 'close').length,
      ],
      [5, 13, 1],
    );
    assert.ok(mine.every((e) => e.terminal === 'TERM-1'));
    const bobbin = await m.get(`/api/lots/D${S}-12`);
    assert.deepEqual([bobbin.kind, bobbin.length_mm, bobbin.from.run], ['bobbin', 22000000, run]);
    await quiet(page);
  });

  test(`loading a 19-wire strander, and a bobbin change, ${size}`, async (t) => {
    const page = await terminal(browser, size, m.url, 'stranding');
    const op = operator(page);
    const first = size === 'desk' ? 0 : 20;
    await op.tap('#start');
    await op.scan(`STR-19${S}`);
    assert.equal(await page.inputValue('[data-name=lines]'), '19');
    await op.tap('#ask button[type=submit]');
    for (let i = 1; i <= 19; i += 1) await op.scan(`BB-${first + i}`);
    report(t, 'loading a 19-wire strander', size, op);
    assert.equal(op.count.scans, 20);
    await page.waitForFunction(
      () => document.querySelectorAll('.line').length === 19 && document.querySelectorAll('.line.free').length === 0,
    );
    const change = operator(page);
    await change.scan(`BB-${first + 20}`);
    assert.match(await text(page, '#ask'), /line 1\b/);
    await change.figure('3250');
    report(t, 'bobbin change', size, change);
    assert.deepEqual([change.count.scans, change.count.figures, change.count.taps], [1, 1, 1]);
    await sent(page);
    const load = (await m.entries()).filter((e) => e.kind === 'load').at(-1).body;
    assert.deepEqual([load.lot, load.line, load.seen_at_mm], [`BB-${first + 20}`, '1', 3250000]);
    await quiet(page);
  });

  test(`1,000 m cut to four reels; more than is left is refused before it happens, ${size}`, async (t) => {
    const page = await terminal(browser, size, m.url, 'cutting');
    const rope = size === 'desk' ? 'RP-1' : 'RP-2';
    const left = size === 'desk' ? 0 : 500;
    const op = operator(page);
    await op.scan(rope);
    await op.scan(`CUT-${S}`);
    await op.figure('4x250');
    await op.figure('');
    await sent(page);
    report(t, 'a cut of 1,000 m to four reels', size, op);
    const cut = (await m.entries()).filter((e) => e.kind === 'run').at(-1).body;
    assert.deepEqual(
      cut.packages.map((p) => p.length_mm),
      [250000, 250000, 250000, 250000],
    );
    const rest = await m.get(`/api/lots/${rope}`);
    assert.equal(rest.left_mm, left * 1000);
    const before1 = (await m.get('/api/ledger/head')).size;
    if (left) {
      await page.keyboard.type(rope);
      await page.keyboard.press('Enter');
      await idle(page);
      await page.keyboard.type('501');
      await page.keyboard.press('Enter');
      await page.waitForFunction(() => /can’t be cut: 500\sm/.test(document.querySelector('.echo')?.textContent));
      assert.equal((await m.get('/api/ledger/head')).size, before1);
    }
    await quiet(page);
  });

  test(`a held lot is STOP, by shape, word and colour; a scanner’s Enter does not clear it, ${size}`, async () => {
    const page = await terminal(browser, size, m.url, 'stranding');
    const op = operator(page);
    await op.scan('BB-HELD');
    assert.ok(await page.locator('#stop .octagon').isVisible());
    assert.equal(await text(page, '#stop-word'), 'STOP');
    assert.match(await text(page, '#stop-why'), /Torsions failed/);
    assert.deepEqual(await accessibility(page), []);
    /* a scanner is faster than anyone's finger; on a busy machine the keys of a test may not be */
    await page.evaluate(() => {
      let last = 0;
      addEventListener('keydown', (event) => ([window.gap, last] = [event.timeStamp - last, event.timeStamp]), true);
    });
    for (let fast = false; !fast; ) {
      await page.keyboard.type('BB-5');
      await page.keyboard.press('Enter');
      fast = await page.evaluate(() => window.gap < 300);
      if (fast) assert.ok(await page.locator('#stop').isVisible(), 'a scan leaves it standing');
      else if (await page.locator('#stop').isHidden()) await op.scan('BB-HELD');
    }
    await page.waitForTimeout(400);
    await page.keyboard.press('Enter');
    assert.ok(await page.locator('#stop').isHidden());
    await quiet(page);
  });
}

test('by touch alone but for the scanner: a cut on the keys of the screen', async (t) => {
  await m.post({
    kind: 'receive',
    body: { lot: 'RP-T', kind: 'rope', heat: 'H-100', diameter_um: 13000, length_mm: 1200000 },
  });
  const page = await terminal(browser, 'hand', m.url, 'cutting');
  const op = operator(page);
  await op.scan('RP-T');
  await op.scan('CUT-T');
  for (const key of ['4', '×', '2', '5', '0'])
    await page.locator('.keypad').getByRole('button', { name: key, exact: true }).tap();
  op.count.taps += 5;
  await op.tap('#ask button.go');
  await op.tap('#ask button.go');
  await sent(page);
  report(t, 'a cut of 1,000 m to four reels, by touch', 'hand', op);
  assert.equal((await m.get('/api/lots/RP-T')).left_mm, 200000);
  await quiet(page);
});

test('another line is a tap away at a bobbin change', async () => {
  const page = await terminal(browser, 'desk', m.url, 'closing');
  const op = operator(page);
  await op.tap('#start');
  await op.scan('CLOSE-9');
  await op.type('[data-name=lines]', '2');
  await op.tap('#ask [data-value=no]');
  await op.tap('#ask button[type=submit]');
  for (const lot of ['ST-4', 'ST-5', 'ST-6']) await op.scan(lot);
  assert.match(await text(page, '#scan-label'), /ST-6 on line 1/);
  await op.tap('.tile:nth-child(2)');
  assert.match(await text(page, '#scan-label'), /ST-6 on line 2/);
  await op.figure('1200');
  await sent(page);
  const load = (await m.entries()).at(-1).body;
  assert.deepEqual([load.line, load.join, load.seen_at_mm], ['2', 'tuck', 1200000]);
  await quiet(page);
});

test('a label like the last ones is the next one made, the server away; what should be left is filled in by a tap', async () => {
  await m.post(
    ...[1, 2].map((i) => ({
      kind: 'receive',
      body: { lot: `SL-${i}`, kind: 'strand', heat: 'H-100', diameter_um: 4300, length_mm: 1000000 + i * 20000 },
    })),
  );
  const page = await terminal(browser, 'desk', m.url, 'closing');
  const op = operator(page);
  await op.tap('#start');
  await op.scan('CLOSE-L');
  await op.type('[data-name=lines]', '2');
  await op.tap('#ask [data-value=no]');
  await op.tap('#ask button[type=submit]');
  for (const lot of ['SL-1', 'SL-2', 'ROPE-1']) await op.scan(lot);
  await op.figure('400');
  await sent(page);
  await m.stop();
  await op.scan('ROPE-2');
  assert.match(await text(page, '#ask .go'), /fresh label/);
  await op.scan('NEITHER');
  assert.equal(await page.evaluate(() => document.querySelector('#scan').selectionEnd), 'NEITHER'.length, 'the next scan stands alone');
  await page.fill('#scan', '');
  await op.figure('');
  await op.figure('200');
  await op.tap('text=Close the run');
  assert.equal(await page.inputValue('[data-name="1"]'), '0');
  await op.tap('#ask-fill');
  assert.deepEqual([await page.inputValue('[data-name="1"]'), await page.inputValue('[data-name="2"]')], ['420', '440']);
  assert.deepEqual(await accessibility(page), []);
  await op.tap('#ask button[type=submit]');
  await m.start();
  await sent(page);
  const entries = await m.entries();
  assert.deepEqual(entries.at(-2).body.lot, 'ROPE-2');
  assert.deepEqual(
    entries.at(-1).body.left.map((l) => [l.line, l.left_mm]),
    [
      ['1', 420000],
      ['2', 440000],
    ],
  );
  assert.equal((await m.get('/api/lots/SL-2')).left_mm, 440000);
  await quiet(page);
});

test('a bobbin shared out to three at the winder; what is left stays on it', async () => {
  const page = await terminal(browser, 'hand', m.url, 'winding');
  const op = operator(page);
  await op.scan('BB-41');
  await op.scan('WIND-9');
  await op.tap('text=Share it out');
  await op.figure('2x1000+435');
  await op.figure('');
  await sent(page);
  const split = (await m.entries()).at(-1).body;
  assert.deepEqual(
    [split.process, split.packages.map((p) => [p.kind, p.length_mm])],
    [
      'wind',
      [
        ['bobbin', 1000000],
        ['bobbin', 1000000],
        ['bobbin', 435000],
      ],
    ],
  );
  const rest = await m.get('/api/lots/BB-41');
  assert.deepEqual(rest.left, [[0, 3440000 - 2435000]]);
  await quiet(page);
});

test('undo makes the last step void, and the bobbin is free again', async () => {
  const page = await terminal(browser, 'desk', m.url, 'drawing');
  const op = operator(page);
  await op.tap('#start');
  await op.scan('BLOCK-U');
  await op.tap('#ask button[type=submit]');
  await op.scan('RC-11');
  await sent(page);
  assert.match(await text(page, '#last'), /RC-11 loaded/);
  await page.click('#undo');
  await page.waitForFunction(() => document.querySelectorAll('.line.free').length === 1);
  await sent(page);
  const last = (await m.entries()).at(-1);
  assert.equal(last.kind, 'void');
  assert.equal((await m.get('/api/lots/RC-11')).state, 'in-stock');
  assert.match(await text(page, '#last'), /begun on BLOCK-U/);
  await quiet(page);
});

test('by keyboard alone: open, load, doff by mass, close', async () => {
  const page = await terminal(browser, 'desk', m.url, 'winding');
  const keys = async (...list) => {
    for (const k of list) await page.keyboard.press(k);
    await idle(page);
  };
  await page.keyboard.type('D-NONE');
  await keys('Enter');
  assert.match(await text(page, '#said'), /Nothing is called/);
  await page.keyboard.type('DD-1');
  await keys('Enter');
  await page.keyboard.type('WIND-1');
  await keys('Enter');
  await keys('Enter');
  await keys('Enter');
  await page.waitForFunction(() => /DD-1/.test(document.querySelector('.lines')?.textContent));
  while (await page.evaluate(() => document.activeElement?.textContent !== 'Take off'))
    await page.keyboard.press('Tab');
  await keys('Enter');
  await page.keyboard.type('500 kg');
  assert.match(await text(page, '.echo'), /500\skg is/);
  await keys('Enter');
  await sent(page);
  const doff = (await m.entries()).at(-1).body;
  assert.equal(doff.mass_g, 500000);
  assert.ok(Math.abs(doff.length_mm - (500000 * 4e12) / (Math.PI * 2400 ** 2 * 7850)) < 2, String(doff.length_mm));
  await quiet(page);
});

test('a warning goes on only with a reason, which is kept, and is not asked for twice', async () => {
  await m.post(
    { kind: 'heat', body: { heat: 'H-200', supplier: 'Oxvale', grade: 'C62D' } },
    { kind: 'receive', body: { lot: 'RC-62', heat: 'H-200', diameter_um: 5500, mass_g: 2000000 } },
    { kind: 'order', body: { order: 'SO-1', process: 'draw', grade: 'C82D', diameter_um: 2400 } },
  );
  const page = await terminal(browser, 'desk', m.url, 'drawing');
  const op = operator(page);
  await op.scan('SO-1');
  await op.scan('BLOCK-G');
  assert.equal(await page.inputValue('[data-name=out_um]'), '2.4');
  await op.tap('#ask button[type=submit]');
  await op.scan('RC-62');
  assert.match(await text(page, '#ask'), /Wrong grade.*C62D.*C82D/);
  assert.deepEqual(await accessibility(page), []);
  await page.keyboard.press('Enter');
  assert.ok(await page.locator('#ask').isVisible(), 'not without a reason');
  await op.tap('text=The foreman has decided');
  await op.scan('GG-1');
  await op.figure('5000');
  await sent(page);
  assert.ok(await page.locator('#ask').isHidden(), 'asked once');
  const [load, doff] = (await m.entries()).slice(-2);
  assert.deepEqual(load.body.accepted, [{ code: 'wrong-grade', reason: 'The foreman has decided' }]);
  assert.equal(doff.body.lot, 'GG-1');
  await quiet(page);
});

test('labels of what was made are a link to the sheet, in the size chosen', async () => {
  const page = await terminal(browser, 'desk', m.url, 'goods-in');
  const op = operator(page);
  await op.scan('H-100');
  await op.type('[data-name=diameter_um]', '5.5');
  await op.tap('#ask button[type=submit]');
  await op.scan('LB-1');
  await op.figure('2000');
  await sent(page);
  await op.tap('text=100 × 150');
  const answer = await page.request.get(m.url + (await page.getAttribute('.labels a', 'href')));
  assert.deepEqual([answer.status(), answer.headers()['content-type']], [200, 'application/pdf']);
  await quiet(page);
});

test('US customary units: shown and typed, stored in whole SI', async () => {
  const page = await terminal(browser, 'desk', m.url, 'drawing', { units: 'us', locale: 'en-US' });
  const op = operator(page);
  await op.tap('#start');
  await op.scan('BLOCK-US');
  await op.type('[data-name=out_um]', '3/32');
  await op.tap('#ask button[type=submit]');
  await op.scan('RC-12');
  await op.scan('US-1');
  await op.figure('1000');
  await sent(page);
  const doff = (await m.entries()).at(-1).body;
  assert.deepEqual([doff.length_mm, doff.diameter_um], [304800, 2381]);
  assert.match(await text(page, '.made'), /1,000\u00a0ft/);
  await quiet(page);
});

test('a station is chosen once and remembered, in Spanish too', async () => {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, locale: 'es-ES' });
  const page = await context.newPage();
  await page.goto(`${m.url}/shop.html`);
  await page.fill('#terminal-name', 'puesto-4');
  await page.click('[data-station=stores]');
  await page.waitForSelector('#scan');
  await page.goto(`${m.url}/shop.html`);
  await page.waitForSelector('#work .run');
  assert.equal(await text(page, '#bar h1'), 'Almacén y expedición');
  assert.equal(await page.evaluate(() => document.documentElement.lang), 'es');
  const op = operator(page);
  for (const lot of ['ST-1', 'ST-2', 'ST-3']) await op.scan(lot);
  await op.tap('text=Mover a');
  await op.type('[data-name=location]', 'Nave 2');
  await op.tap('#ask button[type=submit]');
  await sent(page);
  const move = (await m.entries()).at(-1);
  assert.deepEqual(
    [move.body.lots, move.body.location, move.terminal],
    [['ST-1', 'ST-2', 'ST-3'], 'Nave 2', 'PUESTO-4'],
  );
  await context.close();
});

test('a rod read around one section, which fails, and its retest', async () => {
  const page = await terminal(browser, 'desk', m.url, 'testing');
  const op = operator(page);
  await op.scan('RC-11');
  await op.type('[data-name=readings]', '5.48 5.53 5.51');
  assert.match(await text(page, '#ask'), /3 readings: mean 5\.507\u00a0mm, out-of-roundness 0\.05\u00a0mm/);
  await op.type('[data-name=diameter_um]', '5.5');
  await op.tap('#ask button[type=submit]');
  assert.match(await text(page, '#ask .trouble'), /Give it once/);
  await op.type('[data-name=diameter_um]', '');
  await op.type('[data-name=reduction_ppm]', '42.5');
  await op.tap('[data-value=fail]');
  await op.tap('#ask button[type=submit]');
  await sent(page);
  const first = (await m.entries()).at(-1).body;
  assert.deepEqual(first.readings, { diameter_um: [5480, 5530, 5510] });
  assert.deepEqual([first.results, first.verdict], [{ reduction_ppm: 425000 }, 'fail']);
  await op.scan('RC-11');
  await op.tap(`[data-value="${first.test}"]`);
  await op.type('[data-name=readings]', '5.50 5.51');
  await op.tap('#ask button[type=submit]');
  await sent(page);
  const again = (await m.entries()).at(-1).body;
  assert.deepEqual([again.retest_of, again.verdict], [first.test, 'pass']);
  await quiet(page);
});

test('a test machine’s file: taken, then repeated, then refused with why', async () => {
  const page = await terminal(browser, 'desk', m.url, 'testing');
  const drop = async (csv) => {
    await page.setInputFiles('#file', { name: 'tt1.csv', mimeType: 'text/csv', buffer: Buffer.from(csv) });
    await page.waitForSelector('#ask');
    await page.waitForFunction(() => document.body.classList.contains('asking'));
  };
  const head = 'Specimen,Diameter (mm),Rm (MPa),Torsions,Result\r\n';
  const rows = 'BB-38,1.121,1812,31,OK\r\nBB-39,1.119,1795.5,29,OK\r\n';
  await drop(head + rows);
  await page.fill('[data-name=instrument]', 'TT-1');
  await page.keyboard.press('Enter');
  await page.waitForSelector('[data-name=c0]');
  assert.deepEqual(await page.locator('#ask input').evaluateAll((all) => all.map((i) => i.value)), [
    'lot',
    'diameter_um mm',
    'tensile_kpa MPa',
    'torsions',
    'verdict',
  ]);
  await page.click('#ask button[type=submit]');
  await page.waitForFunction(() => document.querySelectorAll('.file-taken').length === 2);
  assert.ok(
    (await m.entries()).some((e) => e.kind === 'note' && e.body.about === 'instrument:TT-1'),
    'the mapping is kept',
  );
  assert.equal(await page.getAttribute('#count', 'data-back'), '0');
  const tests = (await m.get('/api/lots/BB-39')).tests;
  assert.deepEqual(tests[0].results, { diameter_um: 1119, tensile_kpa: 1795500, torsions: 29 });
  const size = (await m.get('/api/ledger/head')).size;
  await drop(head + rows);
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.querySelectorAll('.file-again').length === 2);
  assert.equal((await m.get('/api/ledger/head')).size, size);
  await drop(`${head}BB-40,1.120,high,30,OK\r\nNO-SUCH,1.120,1800,30,OK\r\nBB-40,1.120,1800,30,NOK\r\n`);
  await page.keyboard.press('Enter');
  await page.waitForFunction(
    () =>
      document.querySelectorAll('.file-refused').length === 2 && document.querySelectorAll('.file-taken').length === 1,
  );
  assert.match(await text(page, '.rows'), /Rm \(MPa\): “high”/);
  assert.match(await text(page, '.rows'), /NO-SUCH/);
  await quiet(page);
});
