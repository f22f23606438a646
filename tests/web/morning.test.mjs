// A quality manager's morning: a letter comes that names a heat. How long, and how many actions of the hand, until
// everything of it that is in the mill is on hold, and everyone who has some of it has a letter?

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open, serve } from './support.mjs';

const HEAT = '48504';
const MOST_ACTIONS = 12;

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

test('from a heat in a letter to all of it held, customers listed and written to', async (t) => {
  const page = await open(browser, 'desk', mill.url, { permissions: ['clipboard-read', 'clipboard-write'] });
  let actions = 0;
  const act = async (what) => {
    actions += 1;
    await what;
  };
  const began = Date.now();

  // the number in the letter, into the one box there is
  await page.waitForSelector('#q');
  await act(page.locator('#q').fill(HEAT));
  await act(page.keyboard.press('Enter'));
  await page.waitForURL(/thing\.html\?type=heat/);
  await act(page.locator('a[href*="recall.html"][href*="direction=forward"]').first().click());
  await page.waitForSelector('#answer[data-complete]');
  const touched = Number((await page.textContent('.headline')).match(/touched ([\d,]+) lots/)[1].replace(',', ''));

  // all of it, in one step
  await act(page.locator('#hold-all').click());
  await act(page.locator('#hold-decides').fill('M. Okafor'));
  await act(page.locator('dialog button[type=submit]').click());
  await page.waitForSelector('dialog .done');
  await act(page.locator('dialog .actions button:visible').click());
  await page.waitForSelector('dialog', { state: 'detached' });
  await page.waitForSelector('#answer[data-complete]');
  await page.waitForSelector('#customers');

  // who has it: a list to save, and a letter each
  const downloading = page.waitForEvent('download');
  await act(page.locator('#customers').click());
  const list = await downloading;
  const letters = page.locator('.letter-of');
  await act(letters.first().locator('summary').click());
  await act(letters.first().getByRole('button', { name: 'Copy the letter' }).click());
  await letters.first().getByText('Copied.').waitFor();
  const seconds = (Date.now() - began) / 1000;

  assert.equal(await page.locator('#papers').count(), 1, 'each certificate is named once');
  const copied = await page.evaluate(() => navigator.clipboard.readText());
  const trace = await mill.get(`/api/trace?origin=heat:${HEAT}&direction=forward`);
  assert.equal(touched, trace.lots.length);
  const affected = trace.lots.filter((l) => l.affected_left_mm > 0);
  assert.ok(affected.length > 10);
  assert.deepEqual(
    affected.filter((l) => l.holds.length === 0).map((l) => l.lot),
    [],
    'nothing of it is free',
  );
  const consignees = new Set(trace.containment.consignments.map((c) => c.consignee));
  assert.equal(await letters.count(), consignees.size);
  const stream = await list.createReadStream();
  let csv = '';
  for await (const piece of stream) csv += piece;
  const sent = trace.lots.filter((l) => l.consignee);
  assert.equal(csv.trim().split('\r\n').length, sent.length + 1);
  for (const lot of sent) assert.ok(csv.includes(lot.lot), lot.lot);
  const first = await letters.first().locator('textarea').inputValue();
  assert.equal(copied, first);
  assert.match(first, /stop using it until a person competent to decide/);
  const named = [...consignees].find((c) => first.includes(c));
  for (const lot of sent.filter((l) => l.consignee === named)) assert.ok(first.includes(lot.lot), lot.lot);

  // the hold knows its question, and the board has it
  const held = (await mill.get('/api/holds?state=open')).holds.find((h) => h.trace?.origin === `heat:${HEAT}`);
  assert.equal(held.decides, 'M. Okafor');
  assert.equal(held.second.needed, true);
  assert.ok(held.trace.size > 0);

  // the letters say how much, in the reader's units, and who has most of what is surely affected is told first
  assert.match(first, /\(reel\), consignment DN-\d+ of .*: surely affected, all of its [\d,.]+\sm/);
  const surely = new Map();
  for (const lot of sent) surely.set(lot.consignee, (surely.get(lot.consignee) || 0) + lot.certain.reduce((n, [a, b]) => n + b - a, 0));
  const order = [...consignees].sort((a, b) => surely.get(b) - surely.get(a));
  assert.deepEqual(
    (await letters.locator('summary').allTextContents()).map((x) => order.findIndex((c) => x.includes(c))),
    order.map((c, i) => i),
  );
  assert.equal(await page.locator('#hold-all.stop').count(), 0, 'there is nothing left to stop');

  // the board names those who have it, though what they have could not be held here
  await page.goto(`${mill.url}/board.html?hold=${held.hold}`);
  const has = page.locator(`[data-reach="${held.hold}"][data-known]`);
  await has.waitFor();
  assert.match(await has.textContent(), new RegExp(`${consignees.size} customers:.*${sent.length} lots sent`));
  assert.match(await has.locator('a').getAttribute('href'), /origin=heat%3A48504/);

  // every certificate in force over affected metal says so until it is withdrawn or cleared
  const papers = [...new Set(trace.lots.flatMap((l) => l.certificates))].sort();
  assert.ok(papers.length > 0);
  for (const code of papers) assert.equal((await mill.get(`/api/certificates/${code}`)).state, 'marked', code);
  assert.deepEqual(await accessibility(page), []);
  assert.deepEqual(await complaints(page), []);
  t.diagnostic(`${seconds.toFixed(1)} s by the machine, ${actions} actions, ${touched} lots, ${consignees.size} customers`);
  assert.ok(actions <= MOST_ACTIONS, `${actions} actions`);
  await page.context().close();
});
