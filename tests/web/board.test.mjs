// The hold board: what it says of a hold, deciding and agreeing on it, with eyes, keyboard and paper.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { smallMill } from './mill.mjs';
import { accessibility, browse, complaints, open, serve, SIZES } from './support.mjs';

let mill;
let browser;

before(async () => {
  mill = await serve(smallMill());
  browser = await browse();
  const head = await mill.get('/api/ledger/head');
  await mill.post(
    {
      kind: 'hold',
      at: '2026-02-04T08:00:00Z',
      body: {
        hold: 'HO-1',
        reason: 'Letter from the steelworks: seams in H-A',
        lots: [{ lot: 'BB-2', from_mm: 0, to_mm: 10300000 }, { lot: 'RL-2' }, { lot: 'RL-1' }],
        decides: 'J. Ferro',
        trace: { origin: 'heat:H-A', direction: 'forward', ...head },
      },
    },
    { kind: 'hold', at: '2026-02-03T20:00:00Z', body: { hold: 'HO-2', reason: 'twists', lots: ['BB-3'] } },
    { kind: 'hold', at: '2026-02-05T20:00:00Z', body: { hold: 'HO-3', reason: 'label torn', lots: ['RL-2'] } },
  );
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

const board = async (size, query = '') => {
  const page = await open(browser, size, `${mill.url}/board.html${query}`);
  await page.waitForFunction(
    () => document.querySelector('#board .held') && !document.querySelector('#board [aria-busy]'),
  );
  return page;
};

const texts = (page, hold) => page.locator(`[data-hold="${hold}"]`).textContent();

for (const size of Object.keys(SIZES)) {
  test(`it says what is barred, how much, who decides and who has it, ${size}`, async () => {
    const page = await board(size);
    assert.deepEqual(
      await page.locator('.held').evaluateAll((list) => list.map((n) => n.dataset.hold)),
      ['HO-1', 'HO-2', 'HO-3'],
      'the heaviest first',
    );
    const one = await texts(page, 'HO-1');
    assert.match(one, /J\. Ferro/);
    assert.match(one, /Heat H-A: What did it touch\?/);
    assert.match(one, /as asked at entry 10/);
    assert.match(one, /1 customer: Alder Lifts \(1 lot sent\)/);
    assert.match(one, /Used before or in spite of it9,000\sm/);
    assert.match(one, /It came of a recall\./);
    assert.match(await texts(page, 'HO-2'), /failed test T-2/);
    assert.match(await texts(page, 'HO-3'), /One person may decide this/);
    await page.getByRole('button', { name: 'Oldest first' }).click();
    assert.equal(await page.locator('.held').first().getAttribute('data-hold'), 'HO-2');
    assert.deepEqual(await accessibility(page), []);
    assert.deepEqual(await complaints(page), []);
    assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= SIZES[size].width);
    const small = await page.evaluate(() =>
      [...document.querySelectorAll('main button, main summary')]
        .map((n) => [n.textContent, n.getBoundingClientRect()])
        .filter(([, box]) => box.height < 47.5 || box.width < 47.5)
        .map(([name]) => name),
    );
    assert.deepEqual(small, []);
    await page.context().close();
  });
}

test('a part is sent to rework by keyboard alone, and the lot says so where it is met', async () => {
  const page = await board('desk', '?hold=HO-1');
  await page.locator('[data-decide="HO-1"]').focus();
  await page.keyboard.press('Enter');
  await page.waitForSelector('dialog[open]');
  assert.equal(await page.evaluate(() => document.activeElement.name), 'disposition');
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  assert.equal(await page.locator('[name=disposition]:checked').inputValue(), 'rework');
  assert.equal(await page.locator('[name=into]').first().isVisible(), true);
  assert.deepEqual(await accessibility(page), []);
  await page.locator('[name=into][value=draw]').focus();
  await page.keyboard.press('Space');
  await page.locator('#decide-lots summary').focus();
  await page.keyboard.press('Enter');
  await page.locator('[name=lot][value="BB-2"]').focus();
  await page.keyboard.press('Space');
  await page.locator('#decide-from').fill('0');
  await page.locator('#decide-to').fill('5000');
  await page.locator('dialog button[type=submit]').focus();
  await page.keyboard.press('Enter');
  assert.match(await page.textContent('dialog .trouble'), /Give the reason/);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'decide-reason');
  await page.keyboard.type('draw it once more');
  await page.locator('dialog button[type=submit]').focus();
  await page.keyboard.press('Enter');
  await page.waitForSelector('dialog .done');
  assert.match(await page.textContent('dialog .done'), /one person released it alone/);
  await page.keyboard.press('Enter');
  await page.waitForSelector('dialog', { state: 'detached' });
  const { holds } = await mill.get('/api/holds?state=open');
  const one = holds.find((h) => h.hold === 'HO-1');
  assert.deepEqual(one.releases[0].into, ['draw']);
  assert.deepEqual(one.lots.find((l) => l.lot === 'BB-2').open_spans, [[5000000, 10300000]]);
  await page.goto(`${mill.url}/lot.html?lot=BB-2`);
  await page.waitForSelector('#holds-title');
  assert.match(await page.textContent('[aria-labelledby=holds-title]'), /rework into drawing.*0\.000 to 5,000\.000\sm/s);
  assert.deepEqual(await accessibility(page), []);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a second person agrees, and the release starts from what was agreed', async () => {
  const page = await board('desk', '?hold=HO-2');
  await page.evaluate(async () => {
    const { decideDialog } = await import('/decide.js');
    const { hold } = await import('/api.js');
    decideDialog(await hold('HO-2'), 'agree');
  });
  await page.locator('[name=disposition][value=concession]').check();
  await page.locator('#decide-reason').fill('for fencing only');
  await page.locator('dialog button[type=submit]').click();
  await page.waitForSelector('dialog .done');
  await page.reload();
  await page.waitForSelector('.second.agreed');
  assert.match(await texts(page, 'HO-2'), /open agreed to concession\..*for fencing only/s);
  await page.getByRole('button', { name: 'Release as open agreed' }).click();
  assert.equal(await page.locator('[name=disposition]:checked').inputValue(), 'concession');
  await page.locator('#decide-reason').fill('customer took it so');
  await page.locator('dialog button[type=submit]').click();
  await page.waitForSelector('dialog .done');
  await page.keyboard.press('Escape');
  await page.waitForFunction(() => document.querySelector('#board').textContent.includes('HO-2 is not open'));
  assert.doesNotMatch(await page.textContent('#board'), /Nothing is on hold/, 'the others are');
  assert.match(await page.textContent('#all-holds'), /2 holds are open/);
  await page.locator('#all-holds').click();
  await page.waitForFunction(() => document.querySelectorAll('#board .held').length === 2);
  const hold = await mill.get('/api/holds/HO-2');
  assert.equal(hold.open, false);
  assert.equal(hold.second.agreements.length, 1);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('on paper: everything but the buttons', async () => {
  const page = await board('desk', '?hold=HO-1');
  await page.emulateMedia({ media: 'print' });
  await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
  assert.equal(await page.locator('[data-decide]').isVisible(), false);
  assert.equal(await page.locator('.held-lots').isVisible(), true);
  assert.equal(await page.locator('.caution').isVisible(), true);
  await page.context().close();
});
