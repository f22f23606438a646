// Every page at both sizes over the demo mill: it draws, fits, is accessible by axe-core's rules, and complains of
// nothing.

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

/** One code of a type, out of the demo mill itself. */
async function anyOf(kind, member) {
  const answer = await mill.get(`/api/entries?kind=${kind}&limit=1`);
  return encodeURIComponent(answer.entries[0].body[member]);
}

const PAGES = [
  ['find', async () => '/', '#attention h3'],
  ['find, a list', async () => '/?q=RL', '#found'],
  ['recall, the question', async () => '/recall.html', '#code'],
  ['recall of a heat', async () => `/recall.html?origin=heat:${await anyOf('heat', 'heat')}`, '#headline'],
  [
    'recall of a machine, with a window open',
    async () => '/recall.html?origin=machine:F-2&since=2026-09-17T03:25:00Z&until=2026-09-17T05:35:00Z',
    '#headline',
  ],
  ['recall to the kin', async () => `/recall.html?direction=kin&origin=weld:${await weld()}`, '#heats-title'],
  ['lot, a reel', async () => `/lot.html?lot=${await reel()}`, '.ribbon svg'],
  ['lot, a tested one', async () => `/lot.html?lot=${await anyOf('test', 'lot')}`, '.ribbon svg'],
  ['thing, a run', async () => `/thing.html?type=run&code=${await anyOf('run', 'run')}`, '#links-title'],
  ['thing, a hold', async () => `/thing.html?type=hold&code=${await anyOf('hold', 'hold')}`, '#links-title'],
  [
    'thing, a certificate',
    async () => `/thing.html?type=certificate&code=${await anyOf('certify', 'certificate')}`,
    '#links-title',
  ],
  ['thing, a machine', async () => '/thing.html?type=machine&code=F-2', '#links-title'],
  ...[
    'receive',
    'heat',
    'supply',
    'batch',
    'run',
    'test',
    'hold',
    'release',
    'scrap',
    'certify',
    'withdraw',
    'dispatch',
    'move',
    'note',
    'correct',
    'void',
  ].map((kind) => [`log, ${kind}`, async () => `/log.html?kind=${kind}`, '#record']),
  ['quality', async () => '/quality.html', '.tile-count b'],
  ['certificates', async () => '/certificates.html', '#list table'],
  ['a certificate', async () => `/certificate.html?c=${await anyOf('certify', 'certificate')}`, '[data-proof=good]'],
  ['issue', async () => '/issue.html', '#reels li'],
  ['hold board', async () => '/board.html', '#board *'],
  ['chart, the question', async () => '/chart.html', 'form'],
  ['chart, unlike products', async () => '/chart.html?property=tensile_kpa&limit=100', '.control svg'],
  ['chart along a run', async () => '/chart.html?property=torsions&run=D-0118&by=place', '.control svg'],
  ['specifications', async () => '/specs.html', '.spec-list a'],
  ['specification, two versions', async () => '/specs.html?spec=R-6X36WS-IWRC-22', '.versions'],
  ['specification, a new one', async () => '/specs.html?new=1', 'form'],
  ['instruments', async () => '/instruments.html', '.spec-list a'],
  ['instrument found bad', async () => '/instruments.html?instrument=TT-2', '.lifeline'],
  ['thing, a test', async () => '/thing.html?type=test&code=T-01546', '#judge-by option'],
  ['lot, joints and strength', async () => '/lot.html?lot=RL-0774', '#strength-title + div table'],
  ['people', async () => '/people.html', '.tile'],
  ['persons', async () => '/persons.html', '#list p'],
  ['terminals', async () => '/terminals.html', '#list p'],
  ['tokens', async () => '/tokens.html', '#list p'],
  ['rights', async () => '/rights.html', 'table.rights'],
  ['access', async () => '/access.html', '#list p'],
  ['sign-in, where nobody signs in', async () => '/signin.html', '#door p'],
  ['ledger', async () => '/ledger.html', '#entries summary'],
  ['no page under the address', async () => '/recal.html', 'h1'],
  ['no such certificate', async () => '/certificate.html?c=IC-NONE', '.trouble'],
  ['ledger, one entry', async () => '/ledger.html?seq=1', '#entries .inside'],
];

async function reel() {
  const found = await mill.get('/api/find?q=RL-0');
  return found.found.find((f) => f.type === 'lot').code;
}

async function weld() {
  const found = await mill.get('/api/find?q=W-0');
  return found.found.find((f) => f.type === 'weld').code;
}

for (const size of Object.keys(SIZES)) {
  for (const [name, where, sign] of PAGES) {
    test(`${name}, ${size}`, async () => {
      const page = await open(browser, size);
      if (name.startsWith('no ')) page.refusals.push(404);
      await page.goto(mill.url + (await where()));
      await page.waitForSelector(sign, { state: 'attached' });
      await page.waitForLoadState('networkidle');
      assert.equal(await page.locator('h1').count(), 1);
      const width = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(width <= SIZES[size].width, `the page is ${width} px wide`);
      assert.deepEqual(await accessibility(page), []);
      assert.deepEqual(await complaints(page), []);
      assert.ok(await page.locator('#banner').isVisible(), 'open mode is said');
      const inline = await page.evaluate(() => document.querySelectorAll('[style], style, script:not([src])').length);
      assert.equal(inline, 0, 'nothing inline');
      await page.context().close();
    });
  }

  test(`what a finger must hit is 48 px at least, ${size}`, async () => {
    for (const where of ['/', '/recall.html', '/log.html?kind=run', '/ledger.html']) {
      const page = await open(browser, size, mill.url + where);
      await page.waitForLoadState('networkidle');
      const small = await page.evaluate(() =>
        [...document.querySelectorAll('button, input, select, textarea, summary, nav a, .button, .choices label')]
          .filter(
            (n) => n.offsetParent !== null && !n.closest('.choices label:not(:scope)') && !n.matches('.choices input'),
          )
          .map((n) => [n.id || n.textContent.slice(0, 20), n.getBoundingClientRect()])
          .filter(([, box]) => box.height < 47.5 || box.width < 47.5)
          .map(([name, box]) => `${name} ${Math.round(box.width)}x${Math.round(box.height)}`),
      );
      assert.deepEqual(small, [], where);
      await page.context().close();
    }
  });
}
