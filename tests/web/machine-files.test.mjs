// A test machine's file as the page reads it: the cases of tests/standards/machine-files.json, to which the server is held
// too.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import { test } from 'node:test';
import { webcrypto } from 'node:crypto';
import { figureOf, keyOf, readCsv, testOf } from '../../web/shop/csv.js';

globalThis.crypto ??= webcrypto; /* as a browser has it; Debian 12's node does not */

const cases = JSON.parse(fs.readFileSync(new URL('../standards/machine-files.json', import.meta.url), 'utf8'));

for (const c of cases.csv) {
  test(`csv: ${c.name}`, () => {
    const { rows, wrong } = readCsv(c.text);
    if (c.wrong) assert.deepEqual([wrong?.line, wrong?.column, wrong?.as], c.wrong);
    else
      assert.deepEqual(
        rows.map((r) => [r.line, r.cells]),
        c.rows,
      );
  });
}

test('figures', () => {
  for (const [text, target, unit, decimal, value] of cases.figures)
    assert.equal(figureOf(text, target, unit, decimal), value, `${text} as ${target}`);
});

test('rows', async () => {
  const { heads, mapping, instrument } = cases.rows;
  for (const c of cases.rows.cases) {
    const { body, at, wrong } = testOf(heads, c.row, mapping, instrument);
    if (c.wrong) assert.deepEqual([wrong?.column, wrong?.text], c.wrong);
    else assert.deepEqual({ body, at }, { body: { ...c.body, instrument }, at: c.at });
    if (c.key) assert.equal(await keyOf(instrument, c.row), c.key);
  }
});
