// Drill and sample: asked for on their pages, shown as a report, kept and listed, at both sizes and by keyboard.

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

const fits = (page, size) =>
  page
    .evaluate(() => document.documentElement.scrollWidth)
    .then((width) => assert.ok(width <= SIZES[size].width, `the page is ${width} px wide`));

for (const size of Object.keys(SIZES)) {
  test(`a drill of a lot that nobody chose, ${size}`, async () => {
    const page = await open(browser, size, `${mill.url}/drill.html`);
    await page.waitForSelector('#seed-text');
    const head = await mill.get('/api/ledger/head');
    assert.match(await page.textContent('#seed'), new RegExp(head.root));
    assert.deepEqual(await accessibility(page), []);
    await page.locator('#seed-text').fill('rain on Tuesday');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#report-title');
    const { entries } = await mill.get('/api/entries?kind=drill&limit=1');
    const { chosen, found } = entries[0].body;
    assert.equal(chosen.seed_root, head.root);
    assert.match(await page.textContent('#report'), new RegExp(`Mock recall of ${chosen.lot}`));
    assert.match(await page.textContent('.headline'), new RegExp(`over ${found.lots} lots`));
    assert.match(await page.textContent('#history'), new RegExp(chosen.lot));
    assert.match(page.url(), new RegExp(`seq=${entries[0].seq}`));
    assert.deepEqual(await accessibility(page), []);
    await fits(page, size);
    assert.equal(await page.getAttribute('#report a[href$=".pdf"]', 'href'), `api/trials/${entries[0].seq}.pdf`);
    await page.reload();
    await page.waitForSelector('#report-title');
    await page.emulateMedia({ media: 'print' });
    assert.equal(await page.locator('.asking').isVisible(), false);
    assert.equal(await page.locator('#report table').isVisible(), true);
    const paper = (await page.pdf({ format: 'A4' })).toString('latin1');
    assert.equal(paper.match(/\/Type\s*\/Page\b/g).length, 1, 'the report is one page');
    assert.deepEqual(await complaints(page), []);
    await page.context().close();
  });

  test(`a sample of certificates, ${size}`, async () => {
    const page = await open(browser, size, `${mill.url}/sample.html`);
    await page.waitForSelector('#seed-text');
    await page.locator('#sample-n').fill('4');
    await page.locator('#seed-text').fill('rain on Tuesday');
    await page.locator('#ask button[type=submit]').focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('#report-title');
    assert.equal(await page.locator('.walked').count(), 4);
    assert.equal(await page.locator('.checks li').count(), 20);
    const { entries } = await mill.get('/api/entries?kind=sample&limit=1');
    const names = entries[0].body.found.certificates.map((c) => c.certificate);
    assert.deepEqual(await page.locator('.walked h3').allTextContents(), names);
    const paper = await fetch(new URL(await page.getAttribute('#report a[href$=".pdf"]', 'href'), page.url()));
    assert.equal(paper.headers.get('content-type'), 'application/pdf');
    assert.deepEqual(await accessibility(page), []);
    await fits(page, size);
    assert.deepEqual(await complaints(page), []);
    await page.context().close();
  });
}

test('what can’t be done is said, and nothing is recorded', async () => {
  const page = await open(browser, 'desk', `${mill.url}/drill.html`);
  page.refusals = [422];
  await page.waitForSelector('#seed-text');
  const before = await mill.get('/api/ledger/head');
  await page.locator('[name=way][value=named]').check();
  assert.equal(await page.locator('#seed').isVisible(), false);
  await page.locator('#drill-lot').fill('none-such');
  await page.locator('#ask button[type=submit]').click();
  await page.waitForSelector('#ask .trouble');
  assert.match(await page.textContent('#ask .trouble'), /NONE-SUCH/);
  assert.deepEqual(await mill.get('/api/ledger/head'), before);
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
});
