// Signing in, and the pages of who may do what: by keyboard alone, what is refused, the session that ends over a form, the
// password asked again, and the lists of people, terminals and tokens.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility, browse, complaints, open } from './support.mjs';
import { gatehouse, password } from './gatehouse.mjs';

let house;
let browser;

before(async () => {
  house = await gatehouse();
  browser = await browse();
});
after(async () => {
  await browser?.close();
  await house?.away();
});

const EXPECTED = [401, 403, 409, 422, 429];

async function at(where, size = 'desk') {
  const page = await open(browser, size, null, { locale: 'en-GB' });
  page.refusals = EXPECTED;
  await page.goto(house.url + where);
  return page;
}

async function signedIn(person, where, size = 'desk') {
  const page = await at(where, size);
  await page.fill('#person', person);
  await page.fill('#password', house.passwords[person]);
  await page.keyboard.press('Enter');
  await page.waitForSelector('#sign-out');
  return page;
}

/** Give the password that a dialog asks for: what it says against it, or nothing. */
async function give(page, word) {
  await page.fill('#door-password', word);
  await page.keyboard.press('Enter');
  await page.waitForFunction(
    () => !document.querySelector('dialog.door') || document.querySelector('dialog.door .trouble'),
  );
  return page.evaluate(() => document.querySelector('dialog.door .trouble')?.textContent);
}

const quiet = async (page) => {
  assert.deepEqual(await complaints(page), []);
  await page.context().close();
};

test('by keyboard alone: a one-time code sets a password, a wrong one is refused, and one is back where one was', async () => {
  const page = await at('/rights.html');
  await page.waitForSelector('#person');
  assert.match(page.url(), /signin\.html\?to=rights\.html/);
  assert.deepEqual(await accessibility(page), []);
  const word = password();
  await page.keyboard.type('ad-1');
  while (await page.evaluate(() => document.activeElement.id !== 'by-code')) await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#code');
  assert.deepEqual(await accessibility(page), []);
  for (const text of [house.code, 'short', 'short']) {
    await page.keyboard.type(text);
    await page.keyboard.press('Tab');
  }
  await page.keyboard.press('Enter');
  await page.waitForSelector('#new[aria-invalid=true]');
  assert.match(await page.textContent('.trouble'), /12/);
  for (const text of [word, word]) {
    await page.keyboard.press('Control+a');
    await page.keyboard.type(text);
    await page.keyboard.press('Tab');
  }
  await page.keyboard.press('Enter');
  await page.waitForSelector('#password');
  house.passwords['AD-1'] = word;
  await page.keyboard.type('not it at all');
  await page.keyboard.press('Enter');
  await page.waitForSelector('.trouble');
  assert.match(await page.textContent('.trouble'), /not right/);
  assert.equal(await page.inputValue('#password'), '');
  await page.keyboard.type(word);
  await page.keyboard.press('Enter');
  await page.waitForSelector('table.rights');
  await page.waitForFunction(() => document.querySelector('#who')?.textContent.includes('Ada Minkels'));
  const cells = await page.$$eval('table.rights tbody tr', (rows) => rows.map((r) => r.textContent));
  assert.ok(cells.some((c) => /^Release.*may not.*with the password again/.test(c)), cells.join('\n'));
  assert.deepEqual(await accessibility(page), []);
  await page.click('#sign-out');
  await page.waitForSelector('#password');
  await quiet(page);
  house.admin = await house.caller('AD-1');
});

test('where one is sent after signing in is one of these pages', async () => {
  const page = await signedIn('AD-1', `/signin.html?to=${encodeURIComponent('https://elsewhere.example/')}`);
  assert.equal(page.url(), `${house.url}/index.html`);
  const places = ['//elsewhere.example', 'javascript:alert(1)', 'signin.html', '../up.html', 'a.html\n//b', 'lot.html?lot=A#x'];
  const targets = await page.evaluate(
    async (list) => list.map((await import('/door.js')).target),
    places,
  );
  assert.deepEqual(targets, [...Array(5).fill('index.html'), 'lot.html?lot=A#x']);
  await page.context().close();
});

test('people: added with a role and a badge, given a code, changed and closed', async () => {
  const page = await signedIn('AD-1', '/persons.html');
  await page.click('#add-person');
  await page.fill('#p-code', 'qm-1');
  await page.fill('#p-name', 'Quirin Vale');
  await page.fill('#p-badge', 'B-77');
  await page.uncheck('dialog input[value=operator]');
  await page.check('dialog input[value=quality]');
  assert.deepEqual(await accessibility(page), []);
  await page.click('dialog button[type=submit]');
  await page.waitForSelector('[data-code="QM-1"]');
  assert.match(await page.textContent('[data-code="QM-1"]'), /Quality.*no password yet/);
  await page.click('[data-code="QM-1"] [data-do=code]');
  const code = await page.textContent('#secret');
  assert.deepEqual(await accessibility(page), []);
  await page.click('dialog .main');
  house.passwords['QM-1'] = password();
  const set = await fetch(`${house.url}/api/password`, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json', Origin: house.url },
    body: JSON.stringify({ person: 'QM-1', code, new: house.passwords['QM-1'] }),
  });
  assert.equal(set.status, 200);
  await page.click('[data-code="AD-1"] [data-do=close]');
  await page.click('dialog button[type=submit]');
  await page.waitForSelector('dialog .trouble');
  assert.match(await page.textContent('dialog .trouble'), /last one|only administrator/);
  await page.keyboard.press('Escape');
  await quiet(page);
});

test('a session that ends over a form: one signs in over it, and what was typed is recorded', async () => {
  const page = await signedIn('QM-1', '/log.html?kind=heat');
  await page.waitForSelector('#record');
  for (const [step, text] of [['heat', 'H-77'], ['supplier', 'Northmark Steel'], ['grade', 'C82D']])
    await page.locator(`[data-step="${step}"]`).first().fill(text);
  await page.context().clearCookies(); /* as a session that has ended */
  await page.click('#record');
  await page.waitForSelector('dialog.door');
  assert.equal(await page.inputValue('#door-person'), 'QM-1');
  assert.deepEqual(await accessibility(page), []);
  assert.match(await give(page, 'something else'), /not right/);
  await give(page, house.passwords['QM-1']);
  await page.waitForSelector('#done');
  const last = (await house.entries()).filter((e) => e.kind === 'heat');
  assert.deepEqual([last.length, last[0].by, last[0].body.heat], [1, 'QM-1', 'H-77']);
  await quiet(page);
});

test('the password again in mid-decision: asked for, and the same entry is sent under the same key', async () => {
  const setUp = await house.caller('QM-1');
  await setUp.say('receive', { lot: 'RC-1', heat: 'H-77', diameter_um: 5500, length_mm: 1000000 });
  await setUp.say('hold', { hold: 'HO-1', reason: 'kink', lots: [{ lot: 'RC-1' }] });
  const page = await signedIn('QM-1', '/log.html?kind=release');
  await page.waitForSelector('#record');
  const keys = [];
  await page.route('**/api/entries', (route) => {
    keys.push(route.request().postDataJSON().key);
    if (keys.length > 1) return route.continue();
    return route.fulfill({
      status: 403,
      contentType: 'application/problem+json',
      body: '{"type":"https://kinwire.example/problems/password-again","title":"-","status":403,"detail":"again"}',
    });
  });
  await page.locator('[data-step="hold"]').first().fill('HO-1');
  await page.locator('[data-step="disposition"]').first().selectOption('release');
  await page.locator('[data-step="reason"]').first().fill('straightened and looked at');
  await page.click('#record');
  await page.waitForSelector('dialog.door');
  assert.match(await page.textContent('dialog.door'), /once more/);
  assert.match(await give(page, 'wrong one here'), /not right/);
  await give(page, house.passwords['QM-1']);
  await page.waitForSelector('#done, #form .trouble');
  assert.equal(await page.$('#form .trouble'), null, await page.textContent('#form'));
  assert.equal(keys.length, 2);
  assert.equal(keys[0], keys[1]);
  assert.equal((await house.entries()).findLast((e) => e.kind === 'release').key, keys[0]);
  await quiet(page);
});

test('someone else signs in beside a page: nothing goes out under their name unasked', async () => {
  const page = await signedIn('QM-1', '/log.html?kind=heat');
  await page.waitForSelector('#record');
  for (const [step, text] of [['heat', 'H-78'], ['supplier', 'Northmark Steel'], ['grade', 'C82D']])
    await page.locator(`[data-step="${step}"]`).first().fill(text);
  const beside = await page.context().newPage();
  await beside.goto(`${house.url}/signin.html`);
  await beside.fill('#person', 'AD-1');
  await beside.fill('#password', house.passwords['AD-1']);
  await beside.keyboard.press('Enter');
  await beside.waitForSelector('#sign-out');
  await page.click('#record');
  await page.waitForSelector('dialog.door');
  assert.match(await page.textContent('dialog.door'), /Ada Minkels \(AD-1\) is signed in here now/);
  assert.equal((await house.entries()).filter((e) => e.body.heat === 'H-78').length, 0);
  await page.keyboard.press('Escape');
  await page.waitForSelector('#form .trouble');
  assert.equal(await page.locator('[data-step="heat"]').first().inputValue(), 'H-78');
  await page.context().close();
});

for (const size of ['desk', 'hand']) {
  test(`terminals and tokens: recorded, their secrets shown once; every page of the area, ${size}`, async () => {
    const page = await signedIn('AD-1', '/terminals.html', size);
    const T = size === 'desk' ? 'T-D' : 'T-H';
    await page.click('#add-terminal');
    await page.fill('#t-code', T);
    await page.fill('#t-where', 'Bay 2');
    await page.click('dialog button[type=submit]');
    await page.click(`[data-code="${T}"] [data-do=code]`);
    assert.ok((await page.textContent('#secret')).length >= 8);
    await page.click('dialog .main');
    await page.goto(`${house.url}/tokens.html`);
    await page.click('#add-token');
    await page.fill('#k-code', `TT-2-${T}`);
    await page.fill('#k-of', 'TT-2');
    await page.click('dialog button[type=submit]');
    await page.waitForSelector('#secret');
    assert.match(await page.textContent('#secret'), /^kwt_/);
    await page.click('dialog .main');
    await page.waitForSelector(`[data-code="TT-2-${T}"]`);
    assert.match(await page.textContent(`[data-code="TT-2-${T}"]`), /Operator.*in use.*only instrument TT-2/s);
    for (const name of ['people', 'persons', 'terminals', 'tokens', 'rights', 'access', 'me']) {
      await page.goto(`${house.url}/${name}.html`);
      await page.waitForSelector('main .tile, main li, main table, main form');
      assert.deepEqual(await accessibility(page), [], name);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
      assert.ok(wide <= 0, `${name} is ${wide} px too wide`);
    }
    await quiet(page);
  });
}
