// The message files: a language is complete when it has every key of the English one, with the same values in each
// text, and no other.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import { test } from 'node:test';

const folder = new URL('../../web/words/', import.meta.url);
const load = async (name) => (await import(new URL(name, folder))).default;
const values = (text) => [...text.matchAll(/\{\w+\}/g)].map((m) => m[0]).sort();

const PAIRS = fs
  .readdirSync(folder)
  .filter((name) => !name.startsWith('en'))
  .map((name) => [`en${name.slice(2)}`, name]);

test('there are languages to compare', () => assert.ok(PAIRS.length >= 2));

for (const [english, other] of PAIRS) {
  test(`${other} says all that ${english} says`, async () => {
    const [a, b] = [await load(english), await load(other)];
    assert.deepEqual(
      Object.keys(a).filter((key) => !(key in b)),
      [],
      `not in ${other}`,
    );
    assert.deepEqual(
      Object.keys(b).filter((key) => !(key in a)),
      [],
      `not in ${english}`,
    );
    for (const key of Object.keys(a)) {
      assert.deepEqual(values(b[key]), values(a[key]), key);
      assert.notEqual(b[key].trim(), '', key);
    }
  });
}

test('every key that the terminal asks for by name is there', async () => {
  const words = { ...(await load('en.js')), ...(await load('en-shop.js')), ...(await load('en-said.js')), ...(await load('en-people.js')) };
  const has = (key) => key in words || `${key}.other` in words;
  const shop = new URL('../../web/shop/', import.meta.url);
  for (const name of fs.readdirSync(shop)) {
    const text = fs.readFileSync(new URL(name, shop), 'utf8');
    for (const [, key] of text.matchAll(/\bt\(\s*'([a-zA-Z0-9.-]+)'/g)) assert.ok(has(key), `${name}: ${key}`);
  }
});

test('the page without the server has every file it needs', () => {
  const web = new URL('../../web/', import.meta.url);
  const listed = new Set(
    fs
      .readFileSync(new URL('sw.js', web), 'utf8')
      .match(/'\w[\w/-]*\.(html|css|js|svg)'/g)
      .map((x) => x.slice(1, -1)),
  );
  const wanted = new Set([
    'shop.html',
    ...fs
      .readFileSync(new URL('shop.html', web), 'utf8')
      .match(/(href|src)="[\w/-]+\.(css|js|svg)"/g)
      .map((x) => x.split('"')[1]),
  ]);
  for (const name of wanted) {
    if (!name.endsWith('.js')) continue;
    const text = fs.readFileSync(new URL(name, web), 'utf8');
    for (const [, to] of text.matchAll(/(?:from|import\()\s*'(\.{1,2}\/[\w./-]+\.js)'/g))
      wanted.add(new URL(to, new URL(name, web)).href.slice(web.href.length));
  }
  for (const name of ['words/en.js', 'words/es.js', 'words/en-shop.js', 'words/es-shop.js', 'words/en-said.js', 'words/es-said.js']) wanted.add(name);
  assert.deepEqual(
    [...wanted].filter((name) => !listed.has(name)),
    [],
    'not in the worker\u2019s list',
  );
  for (const name of listed) assert.ok(fs.existsSync(new URL(name, web)), `${name} is listed, and is not there`);
});
