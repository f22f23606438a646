// An answer of ten thousand lots stays usable; how long from the question to the drawn page is printed.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open, serve, SIZES } from './support.mjs';
import { bigMill } from './mill.mjs';

const COILS = 100;
const BOBBINS = 100;
const LOTS = COILS * (BOBBINS + 1);

let mill;
let demo;
let browser;

before(async () => {
  mill = await serve(bigMill(COILS, BOBBINS));
  demo = await serve(process.env.KINWIRE_DEMO);
  browser = await browse();
});
after(async () => {
  await browser?.close();
  await mill?.stop();
  await demo?.stop();
});

/** The demo mill's suspected heat: the one a note was written about. */
async function suspected() {
  const { entries } = await demo.get('/api/entries?kind=note&limit=200');
  return entries
    .map((e) => e.body.about)
    .find((about) => about.startsWith('heat:'))
    .slice(5);
}

const middle = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];

/** Milliseconds from the question's key press to the drawn first screen, several times over. */
async function drawn(size, url, code, times = 5) {
  const page = await open(browser, size, `${url}/recall.html`);
  const list = [];
  for (let i = 0; i < times; i += 1) {
    await page.goto(`${url}/recall.html`);
    await page.fill('#code', code);
    await page.press('#code', 'Enter');
    await page.waitForSelector('#answer[data-drawn-ms]');
    list.push(Number(await page.getAttribute('#answer', 'data-drawn-ms')));
  }
  await page.context().close();
  return list;
}

for (const size of Object.keys(SIZES)) {
  test(`question to drawn page, ${size}`, async (t) => {
    const heat = await suspected();
    const small = await drawn(size, demo.url, heat);
    const big = await drawn(size, mill.url, 'H-BIG');
    t.diagnostic(
      `demo mill's heat ${heat}: ${middle(small)} ms (${small.join(', ')}); ${LOTS} lots: ${middle(big)} ms (${big.join(', ')})`,
    );
    console.log(`question to drawn page, ${size}: demo heat ${middle(small)} ms; ${LOTS} lots ${middle(big)} ms`);
  });
}

test('ten thousand lots can be scrolled, narrowed, printed and held', async (t) => {
  const page = await open(browser, 'desk', `${mill.url}/recall.html?origin=heat:H-BIG`);
  await page.waitForSelector('#answer[data-complete]');
  assert.match(await page.textContent('.headline'), /10,100 lots: 10,000 bobbins/);
  const made = () => page.locator('tr.lot-row').count();
  assert.ok((await made()) < 60, 'only what is near the window is made');
  await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
  await page.waitForSelector('tr.lot-row:has-text("BB-99-")');
  assert.ok((await made()) < 60);
  const scroll = await page.evaluate(async () => {
    const times = [];
    for (let i = 0; i < 20; i += 1) {
      const from = performance.now();
      scrollTo(0, (document.body.scrollHeight * i) / 20);
      await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
      times.push(performance.now() - from);
    }
    return Math.max(...times);
  });
  t.diagnostic(`longest frame of 20 leaps: ${Math.round(scroll)} ms`);
  await page.fill('#f-text', 'BB-57-99');
  await page.waitForFunction(() => document.querySelectorAll('tr.lot-row').length === 1);
  await page.fill('#f-text', '');
  assert.deepEqual(await accessibility(page), []);
  await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
  assert.equal(await made(), LOTS, 'all of it is printed');
  await page.evaluate(() => dispatchEvent(new Event('afterprint')));
  assert.ok((await made()) < 60);
  await page.click('#hold-all');
  await page.click('dialog button[type=submit]');
  await page.waitForSelector('dialog .done');
  const { holds } = await mill.get('/api/holds');
  assert.equal(holds[0].lots.length, COILS * BOBBINS);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});
