// Words and figures: every key that a page asks for by name is in the message file, and lengths and masses convert as
// defined.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import path from 'node:path';
import { after, before, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { browse, open, serve } from './support.mjs';

const web = fileURLToPath(new URL('../../web/', import.meta.url));
const PAGES = fs.readdirSync(web).filter((name) => name.endsWith('.html'));
const words = (name) => import(new URL(`../../web/words/en${name}.js`, import.meta.url)).then((file) => file.default);

/** A page and every module that it loads, one after another. */
function loaded(page) {
  const seen = new Set([path.join(web, page)]);
  for (const file of seen) {
    const text = fs.readFileSync(file, 'utf8');
    for (const [, script] of text.matchAll(/(?:src|from|import)[= (]["']([^"']+\.js)["']/g))
      if (!script.includes('words/')) seen.add(path.resolve(path.dirname(file), script));
  }
  return [...seen];
}

/** The words that a page has: those of all pages, and of the areas that its modules learn. */
async function learned(files) {
  const texts = files.map((file) => fs.readFileSync(file, 'utf8')).join('\n');
  const areas = [...texts.matchAll(/learnArea\('([\w-]+)'\)|words\/en(-[a-z]+)\.js/g)].map((m) => (m[1] ? `-${m[1]}` : m[2]));
  return Object.assign({}, await words(''), ...(await Promise.all([...new Set(areas)].map(words))));
}

for (const page of PAGES)
  test(`${page} asks for no word that is not there`, async () => {
    const files = loaded(page);
    const has = await learned(files);
    const missing = [];
    for (const file of files) {
      const text = fs.readFileSync(file, 'utf8');
      const asked = [...text.matchAll(/\bt\('([^'$]+)'/g), ...text.matchAll(/data-t(?:-label|-hint)?="([^"]+)"/g)].map((m) => m[1]);
      missing.push(...asked.filter((key) => !(key in has || `${key}.other` in has)).map((key) => `${path.basename(file)}: ${key}`));
    }
    assert.deepEqual(missing, []);
  });

test('no page is written in anything but the words of the message file', () => {
  for (const file of PAGES.map((name) => path.join(web, name))) {
    const bare = fs
      .readFileSync(file, 'utf8')
      .replace(/<head>[\s\S]*?<\/head>|<noscript>.*?<\/noscript>/g, '')
      .replace(/<[^>]*>|&#\d+;/g, '')
      .trim();
    assert.equal(bare, '', file);
  }
});

let mill;
let browser;
before(async () => {
  mill = await serve();
  browser = await browse();
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

const CASES = [
  ['en-GB', 'si', 'length', 1234567, '1,234.567\u00a0m'],
  ['en-GB', 'us', 'length', 304800, '1,000.000\u00a0ft'],
  ['en-GB', 'us', 'mass', 45359237, '100,000\u00a0lb'],
  ['en-GB', 'us', 'diameter', 4763, '0.1875\u00a0in'],
  ['en-GB', 'si', 'diameter', 4763, '4.763\u00a0mm'],
];

test('figures', async () => {
  for (const [locale, units, quantity, stored, text] of CASES) {
    const page = await open(browser, 'desk', `${mill.url}/`, { locale });
    const got = await page.evaluate(
      async ([system, name, value]) => {
        localStorage.setItem('kinwire.units', system);
        const fmt = await import('/format.js');
        return name === 'length' ? fmt.lengthExact(value) : fmt[name](value);
      },
      [units, quantity, stored],
    );
    assert.equal(got, text);
    await page.context().close();
  }
});

test('typed figures are read as the locale writes them, or not at all', async () => {
  const page = await open(browser, 'desk', `${mill.url}/`, { locale: 'en-GB' });
  const got = await page.evaluate(async () => {
    const fmt = await import('/format.js');
    return ['1200', '1 200.5', '1,200.5', '12,00', '1.2.3', 'x', '-3', '0.0005'].map((text) =>
      fmt.readQuantity(text, 'length'),
    );
  });
  assert.deepEqual(got, [1200000, 1200500, 1200500, NaN, NaN, NaN, -3000, 1]);
  await page.context().close();
});
