// Who works at a terminal: enrolled by a one-time code, signed in by badge and PIN, handed over, left alone; and the
// queue across a change of shift with the server away: what one person made is never recorded as another's.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { accessibility, browse, PATIENCE, SIZES } from './support.mjs';
import { gatehouse } from './gatehouse.mjs';
import { operator } from './terminal.mjs';

let house;
let browser;
let page;

before(async () => {
  house = await gatehouse();
  browser = await browse();
  await house.settle();
  await house.person('OP-1', 'Otto Lindqvist', ['operator'], { badge: 'B-1001', pin: '493817' });
  await house.person('OP-2', 'Berta Quell', ['operator'], { badge: 'B-1002', pin: '660251' });
  const context = await browser.newContext({ viewport: SIZES.desk, locale: 'en-GB' });
  page = await context.newPage();
  await page.clock.install();
  page.complaints = [];
  page.on('pageerror', (error) => page.complaints.push(String(error.stack || error)));
});
after(async () => {
  await browser?.close();
  await house?.away();
});

const shown = (text) => page.waitForFunction((t) => document.querySelector('#door')?.textContent.includes(t), text);
const type = async (text) => {
  await page.keyboard.type(text);
  await page.keyboard.press('Enter');
};
/** The name is drawn a moment after the door is gone. */
const whoIs = (name) =>
  page.waitForFunction((source) => new RegExp(source).test(document.querySelector('#who-now')?.textContent), name.source);
const gone = () => page.waitForSelector('#door', { state: 'hidden' });
const sent = () => page.waitForFunction(() => document.querySelector('#count')?.dataset.waiting === '0');
const made = async (kind) => (await house.entries()).filter((e) => e.kind === kind);

async function until(so, otherwise) {
  for (const end = Date.now() + PATIENCE; Date.now() < end; await new Promise((done) => setTimeout(done, 100)))
    if (await so()) return;
  assert.fail(otherwise);
}
const recorded = (lot) =>
  until(async () => (await made('receive')).some((e) => e.body.lot === lot), `${lot} was never recorded`);

async function signIn(badge, pin) {
  await page.waitForSelector('#badge');
  await type(badge);
  await page.waitForSelector('#pin-dots');
  await type(pin);
}

test('a device becomes a terminal by its code, and asks who is working', async () => {
  const code = await house.terminal('T-1', 'Bay 2');
  await page.goto(`${house.url}/shop.html?station=goods-in`);
  await page.waitForSelector('#enrol-terminal');
  assert.deepEqual(await accessibility(page), []);
  await page.fill('#enrol-terminal', 't-1');
  await page.fill('#enrol-code', 'WRONG-CODE-X');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#door .trouble');
  await page.fill('#enrol-code', code);
  await page.keyboard.press('Enter');
  await page.waitForSelector('#badge');
  assert.deepEqual(await accessibility(page), []);
  assert.equal(await page.evaluate(() => localStorage.getItem('kinwire.terminal')), 'T-1');
});

test('badge and PIN, by scanner and keyboard and by big keys; a wrong PIN is refused', async () => {
  await signIn('B-1001', '111111');
  await page.waitForSelector('#door .trouble');
  assert.match(await page.textContent('#door .trouble'), /not right/);
  assert.deepEqual(await accessibility(page), []);
  const small = await page.$$eval('.pin-pad button', (keys) =>
    keys.map((k) => k.getBoundingClientRect()).filter((r) => r.width < 64 || r.height < 64),
  );
  assert.equal(small.length, 0);
  for (const digit of '493817') await page.click(`.pin-pad button:text-is("${digit}")`);
  await page.click('#pin-go');
  await gone();
  await whoIs(/Otto Lindqvist/);
  const op = operator(page);
  await op.scan('HEAT-1');
  await op.type('[data-name=supplier]', 'Northmark Steel');
  await op.type('[data-name=grade]', 'C82D');
  await op.type('[data-name=diameter_um]', '5.5');
  await op.tap('#ask button[type=submit]');
  await op.scan('G-1');
  await op.figure('1981');
  await sent();
  const [got] = await made('receive');
  assert.deepEqual([got.by, got.terminal, got.body.lot], ['OP-1', 'T-1', 'G-1']);
});

test('five quiet minutes ask for the PIN again; what stood on the screen stands there still', async () => {
  await operator(page).scan('G-2');
  await page.waitForSelector('#ask:not([hidden])');
  const asked = await page.textContent('#scan-label');
  await page.clock.fastForward(301000);
  await page.waitForSelector('#badge');
  await shown('five minutes');
  assert.equal(await page.textContent('#scan-label'), asked);
  await page.click('.person:has-text("Otto")');
  await page.waitForSelector('#pin-dots');
  await type('493817');
  await gone();
  assert.equal(await page.textContent('#scan-label'), asked);
  await page.keyboard.press('Escape');
});

test('a change of shift with the server away: each entry is recorded as whoever made it', async () => {
  const op = operator(page);
  await house.stop();
  await op.scan('G-3');
  await op.figure('1983');
  await op.scan('G-4');
  await op.figure('1984');
  await page.click('#who-now');
  await signIn('B-1002', '660251');
  await shown('does not answer');
  assert.deepEqual(await accessibility(page), []);
  await page.click('#go-on');
  await gone();
  await whoIs(/B-1002.*not checked yet/);
  await op.scan('G-5');
  await op.figure('1985');
  await page.waitForFunction(() => document.querySelector('#count')?.dataset.waiting === '3');

  await house.start();
  house.admin = await house.caller('AD-1');
  await page.click('#who-now');
  await page.clock.runFor(3000);
  await signIn('B-1002', '660251');
  await shown('made here under your name');
  assert.match(await page.textContent('#door'), /G-5/);
  assert.doesNotMatch(await page.textContent('#door'), /G-3/);
  assert.deepEqual(await accessibility(page), []);
  await page.click('#mine-yes');
  await gone();
  await page.waitForFunction(() => document.querySelector('#count')?.dataset.waiting === '2');
  assert.match(await page.textContent('#queue-title'), /2 wait for OP-1 to sign in here/);
  await op.scan('G-6');
  await op.figure('1986');
  await recorded('G-6');
  await page.waitForFunction(() => document.querySelector('#count')?.dataset.waiting === '2');

  await page.click('#who-now');
  await signIn('B-1001', '493817');
  await gone();
  await sent();
  const by = Object.fromEntries((await made('receive')).map((e) => [e.body.lot, e.by]));
  assert.deepEqual(by, { 'G-1': 'OP-1', 'G-3': 'OP-1', 'G-4': 'OP-1', 'G-5': 'OP-2', 'G-6': 'OP-2' });
  const access = (await made('access')).map((e) => [e.body.what, e.body.person, e.body.terminal]);
  assert.ok(access.some((a) => a[0] === 'sign-in' && a[1] === 'OP-2' && a[2] === 'T-1'));
  assert.deepEqual(page.complaints, []);
});

test('what was made unchecked and is not theirs comes back; nothing is recorded of it', async () => {
  const op = operator(page);
  await house.stop();
  await page.click('#who-now');
  await signIn('B-1002', '660251');
  await shown('does not answer');
  await page.click('#go-on');
  await gone();
  await op.scan('G-7');
  await op.figure('1987');
  await house.start();
  house.admin = await house.caller('AD-1');
  await page.click('#who-now');
  await page.clock.runFor(3000);
  await signIn('B-1002', '660251');
  await shown('made here under your name');
  await page.click('#door button:has-text("not mine")');
  await gone();
  await page.waitForFunction(() => document.querySelector('#count')?.dataset.back === '1');
  assert.match(await page.textContent('.back .why'), /says that it is not theirs/);
  assert.ok(!(await made('receive')).some((e) => e.body.lot === 'G-7'));
});

test('the server forgets who is here: the screen asks again and the queue waits', async () => {
  await page.context().clearCookies({ name: 's' });
  await operator(page).scan('G-8');
  await page.waitForSelector('#badge, #scan-label');
  await page.clock.runFor(8000);
  await page.waitForSelector('#badge');
  await signIn('B-1002', '660251');
  await gone();
});

test('what somebody left who never came back: quality looks at it, sends it with a word of who made it, or drops it', async () => {
  const op = operator(page);
  await page.keyboard.press('Escape'); /* what was asked before */
  await house.person('QM-1', 'Runa Holt', ['quality']);
  await house.stop();
  for (const [coil, mass] of [['G-21', '2021'], ['G-22', '2022'], ['G-23', '2023']]) {
    await op.scan(coil);
    await op.figure(mass);
  }
  await page.click('#who-now');
  /* one of them is on its way for whoever left while the next one signs in: its refusal is about neither */
  let held = 0;
  let letGo;
  const signedIn = new Promise((resolve) => (letGo = resolve));
  await page.route('**/api/entries', async (route) => {
    held += 1;
    if (held > 1) return route.continue();
    await signedIn;
    return route.fulfill({
      status: 403,
      contentType: 'application/problem+json',
      body: '{"type":"https://kinwire.example/problems/not-allowed","title":"-","status":403,"detail":"no"}',
    });
  });
  await house.start();
  house.admin = await house.caller('AD-1');
  await page.waitForSelector('#badge');
  await until(() => held > 0, 'nothing was sent when the server was there again');
  await signIn('B-1001', '493817');
  await gone();
  await whoIs(/Otto Lindqvist/);
  const refused = page.waitForResponse('**/api/entries');
  letGo();
  await refused;
  await op.scan('G-20'); /* which goes out after it */
  await op.figure('2020');
  await recorded('G-20');
  assert.equal(held, 2);
  assert.equal(await page.getAttribute('#count', 'data-back'), '1', 'nothing but what came back before');
  assert.match(await page.textContent('#queue-title'), /3 wait for OP-2 to sign in here/);
  await page.unroute('**/api/entries');
  await page.click('#count');
  await page.waitForSelector('.others');
  assert.match(await page.textContent('.others'), /quality or an administrator can sign in here/);
  assert.equal(await page.locator('.others button').count(), 0, 'nothing that an operator may decide');
  await page.goto(`${house.url}/signin.html?to=shop.html`);
  await page.fill('#person', 'QM-1');
  await page.fill('#password', house.passwords['QM-1']);
  await page.keyboard.press('Enter');
  await page.waitForSelector('#work .run');
  await whoIs(/Runa Holt/);
  await page.click('#count');
  await page.waitForSelector('#others-send');
  assert.match(await page.textContent('.others'), /G-21.*OP-2/s);
  assert.deepEqual(await accessibility(page), []);
  await page.click('#others-send');
  await page.click('.others form button[type=submit]');
  assert.match(await page.textContent('.others .wrong'), /./, 'not without a reason');
  await page.fill('.others form input', 'Berta has left the mill');
  await page.click('.others form button[type=submit]');
  await sent();
  const all = await house.entries();
  const taken = all.filter((e) => e.kind === 'receive' && /^G-2[123]$/.test(e.body.lot));
  assert.deepEqual(taken.map((e) => [e.body.lot, e.by]), [['G-21', 'QM-1'], ['G-22', 'QM-1'], ['G-23', 'QM-1']]);
  const notes = all.filter((e) => e.kind === 'note');
  assert.deepEqual(notes.map((e) => [e.body.about, e.by]), ['G-21', 'G-22', 'G-23'].map((lot) => [`lot:${lot}`, 'QM-1']));
  assert.match(notes[0].body.text, new RegExp(`${taken[0].key}.*terminal T-1 by OP-2 on .*Berta has left the mill`));

  await house.stop();
  await op.scan('G-24');
  await op.figure('2024');
  await page.waitForFunction(() => document.querySelector('#count')?.dataset.waiting === '1');
  await house.start();
  house.admin = await house.caller('AD-1');
  await page.goto(`${house.url}/signin.html?to=shop.html`);
  await page.fill('#person', 'AD-1');
  await page.fill('#password', house.passwords['AD-1']);
  await page.keyboard.press('Enter');
  await page.waitForSelector('#work .run');
  await whoIs(/Ada Minkels/);
  await page.click('#count');
  await page.waitForSelector('#others-drop');
  assert.equal(await page.locator('#others-send').count(), 0, 'an administrator records no metal');
  const [file] = await Promise.all([page.waitForEvent('download'), page.click('.others a[download]')]);
  const text = await (await file.createReadStream()).toArray();
  assert.match(Buffer.concat(text).toString(), /"kind":"receive".*"lot":"G-24"/);
  await page.click('#others-drop');
  await page.fill('.others form input', 'Weighed anew');
  await page.click('.others form button[type=submit]');
  await sent();
  const after1 = await house.entries();
  assert.ok(!after1.some((e) => e.body.lot === 'G-24'));
  assert.match(after1.filter((e) => e.kind === 'note').at(-1).body.text, /1 entries .* dropped by Ada Minkels \(AD-1\): Weighed anew\nreceive by QM-1/);
  assert.deepEqual(page.complaints, []);
});
