// Find: what is typed or scanned leads to its page; and the ledger proves itself.

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

for (const [scanned, page1] of [
  ['BB-2', /lot\.html\?lot=BB-2$/],
  ['bb-2', /lot\.html\?lot=BB-2$/],
  ['H-A', /thing\.html\?type=heat&code=H-A$/],
  ['W-1', /type=weld&code=W-1$/],
  ['DR-1', /type=run&code=DR-1$/],
  ['T-1', /type=test&code=T-1$/],
  ['DN-1', /type=consignment&code=DN-1$/],
  ['BLOCK-3', /type=machine&code=BLOCK-3$/],
  ['TT-2', /type=instrument&code=TT-2$/],
]) {
  test(`scanned ${scanned}`, async () => {
    const page = await open(browser, 'hand', `${mill.url}/`);
    await page.waitForSelector('#attention h3');
    assert.equal(await page.evaluate(() => document.activeElement.id), 'q');
    // A scanner types fast and ends with Enter.
    await page.keyboard.type(scanned);
    await page.keyboard.press('Enter');
    await page.waitForURL(page1);
    await page.waitForSelector('#links-title, .ribbon svg');
    assert.deepEqual(await complaints(page), []);
    await page.context().close();
  });
}

test('several matches are listed, none is said', async () => {
  const page = await open(browser, 'desk', `${mill.url}/`);
  await page.waitForSelector('#attention h3');
  await page.keyboard.type('BB-');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#found a');
  assert.deepEqual(await page.locator('#found a').allTextContents(), ['BB-1', 'BB-2', 'BB-3']);
  await page.fill('#q', 'ZZZ');
  await page.press('#q', 'Enter');
  await page.waitForSelector('#found .warn');
  await page.context().close();
});

test('what needs attention: the failed test', async () => {
  const page = await open(browser, 'desk', `${mill.url}/`);
  await page.waitForSelector('#attention h3');
  assert.match(await page.textContent('#attention'), /T-2.*BB-3/s);
  await page.context().close();
});

test('the ledger: entries newest first, filters, the head, verified by server and browser', async () => {
  const page = await open(browser, 'desk', `${mill.url}/ledger.html`);
  await page.waitForSelector('#entries summary');
  const head = await mill.get('/api/ledger/head');
  assert.ok((await page.textContent('#head')).includes(head.root));
  assert.equal(await page.locator('#entries > li').count(), head.size);
  assert.equal(await page.locator('#entries .seq').first().textContent(), String(head.size));
  await page.click('#verify');
  await page.waitForSelector('#verified .done >> nth=1');
  assert.match(
    await page.textContent('#verified'),
    /The server: 10 entries.*This browser: 10 entries give the same head/s,
  );
  assert.ok((await page.textContent('#verified')).includes(head.root));
  await page.selectOption('#f-kind', 'test');
  await page.waitForFunction(() => document.querySelectorAll('#entries > li').length === 2);
  await page.locator('#entries summary').first().click();
  await page.click('text=Prove it is under the head');
  await page.waitForSelector('#entries .done');
  assert.match(await page.textContent('#entries .done'), /Entry 7 is under the head at 10/);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});

test('a ledger that lies is found out by the browser', async () => {
  const page = await open(browser, 'desk', null);
  await page.route('**/api/ledger/entries*', async (route) => {
    const answer = await route.fetch();
    await route.fulfill({ response: answer, body: (await answer.text()).replace('Northmark', 'Southmark') });
  });
  await page.goto(`${mill.url}/ledger.html`);
  await page.click('#verify');
  await page.waitForSelector('#verified .trouble');
  assert.match(await page.textContent('#verified'), /gives? another head/);
  await page.context().close();
});
