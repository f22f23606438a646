// Every station at both sizes with work under way, and with a question open: it draws, fits, is accessible by
// axe-core's rules, has targets that a glove hits, and complains of nothing. With KINWIRE_SHOTS (a folder) the pictures
// are kept there.

import assert from 'node:assert/strict';
import path from 'node:path';
import { after, before, test } from 'node:test';
import { accessibility, browse, SIZES } from './support.mjs';
import { idle, mill, stock, terminal } from './terminal.mjs';

let m;
let browser;

const open = (run, process, machine, lines, settings) => ({
  kind: 'open',
  body: { run, process, machine, lines, ...(settings ? { settings } : {}) },
});
const load = (run, line, lot, more = {}) => ({ kind: 'load', body: { run, line, lot, ...more } });
const doff = (run, lot, kind, length_mm, diameter_um) => ({
  kind: 'doff',
  body: { run, lot, kind, length_mm, diameter_um },
});
const numbers = (n) => Array.from({ length: n }, (_, i) => String(i + 1));

before(async () => {
  m = await mill();
  browser = await browse();
  await stock(m);
  await m.post(
    open('D-0412', 'draw', 'BLOCK-3', ['1'], { finish_die_um: 2400 }),
    load('D-0412', '1', 'RC-1'),
    doff('D-0412', 'D0412-01', 'bobbin', 24000000, 2400),
    doff('D-0412', 'D0412-02', 'bobbin', 24500000, 2400),
    load('D-0412', '1', 'RC-2', { join: 'weld', seen_at_mm: 48500000 }),
    { kind: 'doff', body: { run: 'D-0412', scrap_mm: 120000, reason: 'Break' } },
    doff('D-0412', 'D0412-03', 'bobbin', 23800000, 2400),
    open('D-0413', 'draw', 'BLOCK-4', ['1'], { finish_die_um: 1950 }),
    load('D-0413', '1', 'RC-3'),
    doff('D-0413', 'D0413-01', 'bobbin', 30000000, 1950),
    open('Z-0101', 'galvanise', 'GALV-1', numbers(2)),
    load('Z-0101', '1', 'RC-4'),
    load('Z-0101', '2', 'RC-5'),
    doff('Z-0101', 'Z0101-01', 'bobbin', 4000000, 5500),
    open('R-0007', 'wind', 'WIND-1', ['1']),
    load('R-0007', '1', 'D0412-01'),
    doff('R-0007', 'R0007-01', 'bobbin', 9000000, 2400),
    open('S-0088', 'strand', 'STR-19A', numbers(19), { lay_um: 30000, diameter_um: 5600 }),
    ...numbers(19).map((n) => load('S-0088', n, `BB-${n}`)),
    doff('S-0088', 'S0088-01', 'strand', 1500000, 5600),
    doff('S-0088', 'S0088-02', 'strand', 1400000, 5600),
    open('L-0031', 'close', 'CLOSE-1', ['CORE', ...numbers(6)], { lay_um: 84500, diameter_um: 13000 }),
    ...['CORE', ...numbers(6)].map((n, i) => load('L-0031', n, `ST-${i + 1}`)),
    doff('L-0031', 'L0031-01', 'rope', 1200000, 13000),
    open('K-0009', 'compact', 'COMP-1', ['1']),
    load('K-0009', '1', 'S0088-01'),
    doff('K-0009', 'K0009-01', 'strand', 700000, 5400),
  );
});
after(async () => {
  await browser?.close();
  await m?.away();
});

const scan = async (page, code) => {
  await page.keyboard.type(code);
  await page.keyboard.press('Enter');
  await idle(page);
};

/** Station, machine, and what is done there before the second look. */
const STATIONS = [
  [
    'goods-in',
    null,
    async (page) => {
      await scan(page, 'H-100');
      await page.fill('[data-name=diameter_um]', '5.5');
      await page.click('#ask button[type=submit]');
      await idle(page);
      await scan(page, 'RC-NEW-1');
      await page.keyboard.type('2015');
    },
  ],
  [
    'cleaning',
    'PICKLE-1',
    async (page) => {
      for (const lot of ['RC-6', 'RC-7', 'RC-8']) await scan(page, lot);
    },
  ],
  [
    'drawing',
    'BLOCK-3',
    async (page) => {
      await scan(page, 'RC-9');
      await page.keyboard.type('96500');
    },
  ],
  ['heat-treating', 'GALV-1', null],
  ['winding', 'WIND-1', null],
  [
    'stranding',
    'STR-19A',
    async (page) => {
      await scan(page, 'BB-30');
      await page.keyboard.type('2950');
    },
  ],
  [
    'closing',
    'CLOSE-1',
    async (page) => {
      await page.getByRole('button', { name: 'Take off' }).click();
      await page.waitForSelector('body.asking');
      await page.keyboard.type('1000');
    },
  ],
  ['finishing', 'COMP-1', null],
  [
    'cutting',
    'CUT-1',
    async (page) => {
      await scan(page, 'RP-2');
      await page.keyboard.type('4x250');
      await page.keyboard.press('Enter');
      await page.waitForSelector('.cuts li');
      await page.keyboard.type('600');
    },
  ],
  ['testing', null, async (page) => scan(page, 'BB-33')],
  [
    'stores',
    null,
    async (page) => {
      for (const lot of ['BB-34', 'BB-35', 'K0009-01']) await scan(page, lot);
    },
  ],
];

async function look(page, size, name) {
  const width = await page.evaluate(() => document.documentElement.scrollWidth);
  assert.ok(width <= SIZES[size].width, `${name}: the page is ${width} px wide`);
  const small = await page.evaluate(() =>
    [...document.querySelectorAll('button, input, select, textarea, summary, a')]
      .filter((n) => n.offsetParent !== null && !n.matches('.visually-hidden'))
      .map((n) => [n.id || n.textContent.slice(0, 20) || n.className, n.getBoundingClientRect()])
      .filter(([, box]) => box.height < 47.5 || box.width < 47.5)
      .map(([what, box]) => `${what} ${Math.round(box.width)}x${Math.round(box.height)}`),
  );
  assert.deepEqual(small, [], `${name}: targets`);
  assert.deepEqual(await accessibility(page), [], name);
  assert.equal(
    await page.evaluate(() => document.querySelectorAll('[style], style, script:not([src])').length),
    0,
    'nothing inline',
  );
}

const shoot = async (page, name) => {
  if (process.env.KINWIRE_SHOTS)
    await page.screenshot({ path: path.join(process.env.KINWIRE_SHOTS, `shop-${name}.png`) });
};

/** It has done what it was told, and what came of it is drawn. */
async function settled(page) {
  await idle(page);
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

async function at(size, station, machine, options = {}) {
  const context = await browser.newContext({
    viewport: SIZES[size],
    hasTouch: size === 'hand',
    locale: options.locale || 'en-GB',
  });
  await context.addInitScript(
    ([s, k]) => {
      localStorage.setItem('kinwire.station', s);
      if (k) localStorage.setItem('kinwire.machine', k);
    },
    [station, machine],
  );
  const page = await terminal(browser, size, m.url, station, { context, ...options });
  await page.waitForFunction(() => document.querySelector('#banner')?.hidden === false);
  if (machine && !['cleaning', 'cutting'].includes(station)) await page.waitForSelector('article.run');
  await settled(page);
  return page;
}

for (const size of Object.keys(SIZES)) {
  for (const [station, machine, work] of STATIONS) {
    test(`${station}, ${size}`, async () => {
      const page = await at(size, station, machine);
      await look(page, size, station);
      if (!work) await shoot(page, size === 'desk' ? station : `${station}-hand`);
      else {
        await work(page);
        await settled(page);
        await look(page, size, `${station}, at work`);
        await shoot(page, size === 'desk' ? station : `${station}-hand`);
      }
      assert.deepEqual([...page.complaints, ...(await page.evaluate(() => window.breaches))], []);
      await page.context().close();
    });
  }

  test(`choosing the station, ${size}`, async () => {
    const page = await browser.newPage({ viewport: SIZES[size], locale: 'en-GB' });
    await page.goto(`${m.url}/shop.html`);
    await page.waitForSelector('.stations button');
    await look(page, size, 'choosing');
    await shoot(page, size === 'desk' ? 'choose' : 'choose-hand');
    await page.context().close();
  });
}

test('in Spanish and in US units', async () => {
  for (const [name, options, wanted] of [
    ['drawing-es', { language: 'es', locale: 'es-ES' }, /72\.420\sm/],
    ['drawing-us', { units: 'us', locale: 'en-US' }, /237,598\sft/],
  ]) {
    const page = await at('desk', 'drawing', 'BLOCK-3', options);
    assert.match(await page.textContent('.made'), wanted);
    await scan(page, 'RC-10');
    await look(page, 'desk', name);
    await shoot(page, name);
    await page.context().close();
  }
});

test('a held lot', async () => {
  for (const size of Object.keys(SIZES)) {
    const page = await at(size, 'stranding', 'STR-19A');
    await scan(page, 'BB-HELD');
    await page.waitForSelector('#stop .seen');
    await look(page, size, 'stop');
    await shoot(page, size === 'desk' ? 'stop' : 'stop-hand');
    await page.context().close();
  }
});
