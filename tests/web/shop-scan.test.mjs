// What a scanner types: its marks, its manners, and the keyboard that it thinks it is. The reading alone first, then at
// the terminal.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { bare, codeOf, otherwise, whyNot } from '../../web/shop/scan.js';
import { accessibility } from './support.mjs';
import { floor, idle, leave, operator, sent, terminal } from './terminal.mjs';

const READ = [
  ['as printed', 'BB-12', 'BB-12'],
  ['in lower case', 'bb-12', 'BB-12'],
  ['with blanks and a line end of the scanner', ' \tBB-12 \r', 'BB-12'],
  ['the mark of Code 128', ']C0BB-12', 'BB-12'],
  ['the mark of a Data Matrix', ']d1bb-12', 'BB-12'],
  ['GS1-128 with a lot', ']C10109501101530003' + '10RC77/1', 'RC77/1'],
  ['GS1 Data Matrix, lot before the rest', ']d210RC77\u001d0109501101530003', 'RC77'],
  ['GS1 with a serial number', ']d20109501101530003' + '21X9', 'X9'],
  ['GS1 with brackets', '(01)09501101530003(10)RC77', 'RC77'],
  ['a shipping container', ']C100395011015300034565', '395011015300034565'.padStart(18, '0')],
  ['forty characters', 'A'.repeat(40), 'A'.repeat(40)],
  ['forty-one', 'A'.repeat(41), null],
  ['a blank inside', 'BB 12', null],
  ['nothing', '  ', null],
  ['a letter that is two in capitals', 'RC\u00df1', null],
  ['not ASCII', 'BOBINA\u00d1', null],
  ['markup', '<b>', null],
];

for (const [name, typed, code] of READ) test(`read: ${name}`, () => assert.equal(codeOf(typed), code));

/* By xkeyboard-config: what the keys R C - 1 2 / Y Z of a US keyboard give elsewhere. */
const ELSEWHERE = [
  ['RC\u00df12-ZY', 'de', 'RC-12/YZ'],
  ["RC'12-YZ", 'es', 'RC-12/YZ'],
  ['RC)&\u00e9!YW', 'fr', 'RC-12/YZ'],
  ['Q:?', 'fr', 'A.M'],
];

test('what a scanner set to another keyboard types is read back, and nothing else is', () => {
  for (const [typed, layout, code] of ELSEWHERE) {
    assert.equal(codeOf(typed), null, typed);
    assert.equal(otherwise(typed).find((m) => m.layout === layout)?.code, code, typed);
  }
  assert.deepEqual(otherwise('BOBINA\u00d1'), []);
  assert.deepEqual(otherwise('BB-12'), []);
});

test('why it can\u2019t be a code', () => {
  assert.equal(whyNot('https://mill.example/c/1'), 'scan.address');
  assert.equal(whyNot('A'.repeat(60)), 'scan.too-long');
  assert.equal(whyNot('BB 12'), 'scan.blank');
  assert.equal(whyNot('BOBINA\u00d1'), 'scan.no-code');
});

test('a mark says that a scanner sent it', () => {
  assert.deepEqual(bare(']C0100452'), { text: '100452', marked: true });
  assert.deepEqual(bare('100452'), { text: '100452', marked: false });
});

let m;
let browser;

before(async () => {
  ({ m, browser } = await floor());
});
after(() => leave({ m, browser }));

const text = (page, where) => page.locator(where).innerText();

test('a scan that is marked never becomes a figure, and a lot whose code is a number is none', async () => {
  await m.post({ kind: 'receive', body: { lot: '100452', heat: 'H-100', diameter_um: 5500, length_mm: 900000 } });
  const page = await terminal(browser, 'desk', m.url, 'drawing');
  const op = operator(page);
  await op.tap('#start');
  await op.scan('BLOCK-S');
  await op.type('[data-name=out_um]', '2.4');
  await op.tap('#ask button[type=submit]');
  await op.scan(']C0rc-1');
  await op.scan('ss-1');
  await op.scan(']C0100452');
  assert.match(await text(page, '#ask .echo'), /100452 looks like a code/);
  assert.equal((await m.entries()).at(-1).kind, 'load', 'nothing was taken off');
  await op.figure('4000');
  await sent(page);
  assert.deepEqual((await m.entries()).at(-1).body.lot, 'SS-1');
  await page.context().close();
});

test('scanned twice at once it counts once; a scanner that ends with a tab is heard', async () => {
  const page = await terminal(browser, 'hand', m.url, 'stores');
  const op = operator(page);
  await page.keyboard.type('BB-2\nBB-2\n');
  await idle(page);
  assert.match(await text(page, '#said'), /BB-2/);
  assert.equal(await page.locator('.packages li').count(), 1);
  await page.keyboard.type('BB-3');
  await page.keyboard.press('Tab');
  await idle(page);
  assert.equal(await page.locator('.packages li').count(), 2);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'scan');
  await op.scan('B B');
  assert.match(await text(page, '#said'), /there is a blank in it/);
  await op.scan('X'.repeat(70));
  assert.match(await text(page, '#said'), /70 characters/);
  await op.scan('https://other.example/lot/1');
  assert.match(await text(page, '#said'), /is an address/);
  assert.equal(await page.locator('.packages li').count(), 2);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), 'nothing runs out of the page');
  await page.context().close();
});

test('on the hand-held what is asked stands whole below the bar, also while the server is away', async () => {
  const page = await terminal(browser, 'hand', m.url, 'drawing', { name: 'TERM-H', language: 'es', locale: 'es-ES' });
  const op = operator(page);
  const whole = () =>
    page.waitForFunction(() => {
      const bar = document.querySelector('#bar').getBoundingClientRect();
      const label = document.querySelector('#scan-label').getBoundingClientRect();
      return label.top >= bar.bottom;
    });
  await op.scan('BLOCK-S');
  await page.locator('.run-steps button').nth(1).click();
  await page.waitForSelector('#ask:not([hidden])');
  await whole();
  const cut = await page.$$eval('#ask button', (all) => all.filter((b) => b.scrollWidth > b.clientWidth).length);
  assert.equal(cut, 0, 'no word runs out of its button');
  await m.kill();
  await page.waitForSelector('#link.away');
  await whole();
  await m.start();
  await page.context().close();
});

test('another keyboard: the code is proposed, and counts when a person has taken it', async () => {
  const page = await terminal(browser, 'desk', m.url, 'stores');
  const op = operator(page);
  await op.scan('BB\u00df4');
  assert.match(await text(page, '#ask'), /BB-4 \(as on a German keyboard\)/);
  assert.deepEqual(await accessibility(page), []);
  await page.keyboard.press('Enter');
  assert.ok(await page.locator('#ask').isVisible(), 'Enter alone takes nothing');
  await op.tap('text=BB-4 (as on a German keyboard)');
  assert.match(await text(page, '.packages'), /BB-4/);
  await page.context().close();
});
