// Text that was stored to do harm is shown as text and does nothing.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { browse, complaints, open, serve } from './support.mjs';
import { HARM, smallMill } from './mill.mjs';

let mill;
let browser;

before(async () => {
  mill = await serve(smallMill());
  browser = await browse();
  const text = HARM.join(' ');
  await mill.post(
    {
      kind: 'heat',
      body: { heat: 'H-X', supplier: HARM[0], grade: HARM[1], mill_certificate: HARM[2], analysis_ppm: { C: 8200 } },
    },
    {
      kind: 'receive',
      body: { lot: 'RC-X', heat: 'H-X', diameter_um: 5500, length_mm: 5000000, location: HARM[3], order: HARM[0] },
    },
    {
      kind: 'supply',
      body: { supply: 'SU-X', what: HARM[0], supplier: HARM[1], supplier_lot: HARM[2], settings: { speed: HARM[0] } },
    },
    {
      kind: 'run',
      body: {
        run: 'DR-X',
        process: 'draw',
        machine: 'BLOCK-3',
        settings: { die: HARM[0] },
        lines: [{ line: '1', feeds: [{ lot: 'RC-X', from_mm: 0, to_mm: 4000000 }] }],
        packages: [
          { lot: 'BB-X', kind: 'bobbin', length_mm: 9000000, location: HARM[0], construction: HARM[1] },
          { scrap_mm: 1000, reason: HARM[0] },
        ],
      },
    },
    { kind: 'hold', body: { hold: 'HO-X', reason: text, lots: [{ lot: 'RC-X' }] } },
    { kind: 'scrap', body: { lot: 'BB-X', from_mm: 0, to_mm: 1000, reason: HARM[0] } },
    { kind: 'dispatch', body: { consignment: 'DN-X', consignee: HARM[0], lots: ['RL-2'] } },
    { kind: 'note', body: { about: 'lot:RC-X', text } },
    { kind: 'note', body: { about: 'heat:H-X', text } },
  );
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

const PAGES = [
  '/',
  '/?q=X',
  `/?q=${encodeURIComponent(HARM[0])}`,
  '/recall.html?origin=heat:H-X',
  '/recall.html?origin=heat:H-A',
  '/lot.html?lot=RC-X',
  '/lot.html?lot=BB-X',
  '/lot.html?lot=RL-2',
  '/thing.html?type=heat&code=H-X',
  '/thing.html?type=supply&code=SU-X',
  '/thing.html?type=run&code=DR-X',
  '/thing.html?type=hold&code=HO-X',
  '/thing.html?type=consignment&code=DN-X',
  '/ledger.html',
  `/recall.html?origin=${encodeURIComponent(`heat:${HARM[0]}`)}`,
  `/lot.html?lot=${encodeURIComponent(HARM[1])}`,
  `/thing.html?type=${encodeURIComponent(HARM[0])}&code=${encodeURIComponent(HARM[1])}`,
  `/log.html?kind=note&text=${encodeURIComponent(HARM[3])}`,
  `/log.html?kind=${encodeURIComponent(HARM[0])}`,
];

for (const where of PAGES) {
  test(where.slice(0, 60), async () => {
    const page = await open(browser, 'desk', null);
    page.refusals.push(400, 404, 422);
    await page.goto(mill.url + where);
    await page.waitForLoadState('networkidle');
    for (const fold of await page.locator('details:not([open]) > summary').all())
      if (await fold.isVisible()) await fold.click();
    await page.waitForTimeout(100);
    assert.equal(await page.evaluate(() => window.harmed), undefined);
    assert.equal(
      await page.evaluate(
        () => document.querySelectorAll('main img, main script, main svg[onload], a[href^="javascript"]').length,
      ),
      0,
    );
    assert.deepEqual(await complaints(page), []);
    await page.context().close();
  });
}

test('shown as it was written', async () => {
  const page = await open(browser, 'desk', `${mill.url}/thing.html?type=heat&code=H-X`);
  await page.waitForSelector('#links-title');
  assert.ok((await page.textContent('main')).includes(HARM[0]));
  await page.context().close();
});
