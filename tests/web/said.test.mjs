// What the server finds odd and what it refuses, in the reader's language and units.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { browse, complaints, open, serve } from './support.mjs';

let mill;
let browser;

before(async () => {
  mill = await serve('');
  browser = await browse();
  await mill.post(
    { kind: 'heat', body: { heat: 'H-1', supplier: 'Northmark Steel', grade: 'C82D' } },
    { kind: 'receive', body: { lot: 'RC-1', heat: 'H-1', diameter_um: 5500, length_mm: 3048000 } },
    { kind: 'receive', body: { lot: 'RC-2', heat: 'H-1', diameter_um: 5500, length_mm: 3048000 } },
    {
      kind: 'run',
      body: {
        run: 'WD-1',
        process: 'wind',
        machine: 'WIND-1',
        accepted: [{ code: 'length-ratio', reason: 'contador mal' }],
        lines: [{ line: '1', feeds: [{ lot: 'RC-1' }] }],
        packages: [{ lot: 'BB-1', kind: 'bobbin', length_mm: 1524000 }],
      },
    },
  );
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

async function page(where, language, units) {
  const p = await open(browser, 'desk', null, { locale: language === 'es' ? 'es-MX' : 'en-GB' });
  await p.addInitScript(
    ([l, u]) => {
      localStorage.setItem('kinwire.language', l);
      localStorage.setItem('kinwire.units', u);
    },
    [language, units],
  );
  p.refusals = [404, 409, 422];
  await p.goto(mill.url + where);
  return p;
}

const FINDING = [
  ['es', 'us', /Entraron 10,000\.000\sft y constan 5,000\.000\sft a la salida \(-50\.00\s?%, tolerancia 1\.00\s?%\)\. Aceptado: contador mal/],
  ['es', 'si', /Entraron 3,048\.000\sm y constan 1,524\.000\sm a la salida/],
  ['en', 'us', /10,000\.000\sft went in and 5,000\.000\sft is recorded .*Accepted: contador mal/],
];

for (const [language, units, says] of FINDING) {
  test(`a finding, ${language}, ${units}: on the first page, with the run and with its entry`, async () => {
    for (const [where, place] of [
      ['/index.html', '#attention'],
      ['/thing.html?type=run&code=WD-1', 'main'],
      ['/ledger.html?seq=4', '#entries .inside'],
    ]) {
      const p = await page(where, language, units);
      await p.waitForFunction(
        ([at, pattern]) => new RegExp(pattern).test(document.querySelector(at)?.textContent || ''),
        [place, says.source],
      );
      assert.deepEqual(await complaints(p), []);
      await p.context().close();
    }
  });
}

test('what a thing is, in few words: where it is found, and where something leads to it', async () => {
  for (const [where, place, says] of [
    ['/index.html?q=RC-', '#found', /alambr\u00f3n, 10,000\sft.*alambr\u00f3n, 10,000\sft/s],
    ['/thing.html?type=run&code=WD-1', 'main', /RC-1 .*alambr\u00f3n, 10,000\sft.*BB-1 .*bobina, 5,000\sft/s],
    ['/thing.html?type=heat&code=H-1', 'main', /alambr\u00f3n, 10,000\sft/],
    ['/thing.html?type=machine&code=WIND-1', 'main', /WD-1\s*bobinado/],
  ]) {
    const p = await page(where, 'es', 'us');
    await p.waitForFunction(
      ([at, pattern, flags]) => new RegExp(pattern, flags).test(document.querySelector(at)?.textContent || ''),
      [place, says.source, says.flags],
    );
    assert.deepEqual(await complaints(p), []);
    await p.context().close();
  }
});

test('a refusal is said with its values', async () => {
  const p = await page('/log.html?kind=scrap', 'es', 'us');
  await p.fill('[data-step=lot] input, input[data-step=lot]', 'RC-1');
  await p.fill('[data-step=reason] input, input[data-step=reason], textarea[data-step=reason]', 'doblez');
  await p.click('#record');
  await p.waitForSelector('.trouble, .wrong:not(:empty)');
  const said = async () => `${await p.textContent('#form')}`;
  assert.match(await said(), /No queda nada de RC-1; la tomó: la pasada WD-1\./);
  await p.fill('[data-step=lot] input, input[data-step=lot]', 'RC-99');
  await p.click('#record');
  await p.waitForFunction(() => /RC-99/.test(document.querySelector('#form').textContent));
  assert.match(await said(), /No hay ninguna partida RC-99 en el libro\./);
  assert.deepEqual(await complaints(p), []);
  await p.context().close();
});
