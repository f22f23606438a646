// Units against their published definitions: the yard and pound agreement of 1959 (1 yd = 0.9144 m, 1 lb = 0.453 592 37
// kg), the pound-force under standard gravity (9.806 65 m/s2), and the conversion factors of NIST SP 811 (appendix B);
// and nothing drifts by being shown and typed again.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { lengthOf, marks, massOf, parse, QUANTITIES, quantityOf, reread, show, typed } from '../../web/units.js';

const TYPED = [
  /* text, quantity, system, stored */
  ['1 yd', 'length', 'si', 914],
  ['1000 yd', 'length', 'si', 914400],
  ['1 ft', 'length', 'us', 305],
  ['10 ft', 'length', 'us', 3048],
  ['5000 ft', 'length', 'us', 1524000],
  ['1000', 'length', 'us', 304800],
  ['12 ft 3 in', 'length', 'us', 3734],
  ['12\' 3"', 'length', 'si', 3734],
  ["12'", 'length', 'us', 3658],
  ['1.5 km', 'length', 'si', 1500000],
  ['1,200.5', 'length', 'si', 1200500],
  ['1200', 'length', 'si', 1200000],
  ['0.001', 'length', 'si', 1],
  ['3/16 in', 'diameter', 'si', 4763],
  ['3/16', 'diameter', 'us', 4763],
  ['0.1875"', 'diameter', 'si', 4763],
  ['0.1875', 'diameter', 'us', 4763],
  ['4.76', 'diameter', 'si', 4760],
  ['1', 'diameter', 'us', 25400],
  ['1 1/2 in', 'diameter', 'us', 38100],
  ['1-1/2 in', 'diameter', 'us', 38100],
  ['13 mm', 'diameter', 'us', 13000],
  ['5500 um', 'diameter', 'si', 5500],
  ['0.5 in', 'diameter', 'si', 12700],
  ['1 lb', 'mass', 'si', 454],
  ['1000 lb', 'mass', 'si', 453592],
  ['100000', 'mass', 'us', 45359237],
  ['2.5 t', 'mass', 'si', 2500000],
  ['16 oz', 'mass', 'us', 454],
  ['1 ksi', 'stress', 'si', 6895],
  ['1000 ksi', 'stress', 'si', 6894757],
  ['1770', 'stress', 'si', 1770000],
  ['1770 N/mm2', 'stress', 'us', 1770000],
  ['145037.7 psi', 'stress', 'si', 1000000],
  ['1000 lbf', 'force', 'si', 4448],
  ['1000000', 'force', 'us', 4448222],
  ['98.0665 kN', 'force', 'us', 98067],
  ['280', 'zinc', 'si', 280000],
];

test('typed figures, by the published definitions', () => {
  for (const [text, quantity, system, stored] of TYPED)
    assert.equal(parse(text, quantity, system), stored, `${text} as ${quantity}, ${system}`);
});

test('what is no figure is not guessed at', () => {
  for (const text of ['', 'BB-12', '12 x', 'm', '1..2', '1 2', '3/0', '12 ft 3', '1e3', '--5', '5 kg'])
    assert.equal(parse(text, 'length', 'si'), null, text);
});

test('as a locale writes it', () => {
  const spain = marks('es-ES');
  assert.equal(parse('1.234,5', 'length', 'si', spain), 1234500);
  assert.equal(parse('4,76', 'diameter', 'si', spain), 4760);
  assert.equal(parse('4.76', 'diameter', 'si', spain), 4760);
  assert.equal(parse('1 234,5', 'length', 'si', marks('fr-FR')), 1234500);
  assert.equal(parse('12,5', 'length', 'si', marks('en-US')), 12500);
  assert.equal(typed(4760, 'diameter', 'si', spain), '4,76');
  assert.equal(show(1234500, 'length', 'si', 'es-ES', true), '1234,5\u00a0m');
  assert.equal(show(12345000, 'length', 'us', 'en-US'), '40,502\u00a0ft');
});

test('shown to the last decimal and typed again, the stored number is the same', () => {
  let seed = 12345;
  const random = () => (seed = (seed * 1103515245 + 12345) % 2147483648);
  for (const quantity of Object.keys(QUANTITIES)) {
    for (const system of ['si', 'us']) {
      for (const mark of [marks('en-US'), marks('es-ES')]) {
        for (let i = 0; i < 2000; i += 1) {
          const stored = i < 100 ? i : (random() * 4096 + random()) % 10 ** (3 + (i % 9));
          assert.equal(
            parse(typed(stored, quantity, system, mark), quantity, system, mark),
            stored,
            `${stored} ${quantity} ${system}`,
          );
        }
      }
    }
  }
});

test('a box that is looked at and left alone changes nothing, whatever it shows', () => {
  const was = { stored: 4763, text: '0.188' };
  assert.equal(reread('0.188', was, 'diameter', 'us'), 4763);
  assert.equal(reread(' 0.188 ', was, 'diameter', 'us'), 4763);
  assert.equal(reread('0.1875', was, 'diameter', 'us'), 4763);
  assert.equal(reread('0.19', was, 'diameter', 'us'), 4826);
});

test('large figures keep every digit', () => {
  assert.equal(parse('9007199254.740', 'length', 'si'), 9007199254740);
  assert.equal(parse('29549866976.88', 'length', 'us'), Math.round(29549866976.88 * 304.8));
  assert.equal(parse('99999999999999999', 'length', 'si'), null);
});

test('mass and length of round wire, at 7850 kg/m3', () => {
  /* pi/4 x (1 mm)^2 x 1000 m x 7850 kg/m3 = 6.165 375... kg */
  assert.equal(massOf(1000000, 1000), 6165);
  assert.equal(massOf(1000000, 5500), Math.round(6165.3756 * 5.5 * 5.5));
  assert.equal(lengthOf(2000000, 5500), 10723710);
  for (const [mm, um] of [
    [3481000, 1120],
    [20000000, 3175],
    [10723710, 5500],
  ]) {
    const back = lengthOf(massOf(mm, um), um);
    assert.ok(Math.abs(back - mm) <= 1 + mm / massOf(mm, um), `${mm} mm of ${um} um came back as ${back}`);
  }
});

test('the quantity of a member is told by its unit', () => {
  const names = {
    length_mm: 'length',
    sample_mm: 'short',
    diameter_um: 'diameter',
    mass_g: 'mass',
    tensile_kpa: 'stress',
    breaking_n: 'force',
    zinc_mg_m2: 'zinc',
    torsions: null,
    lot: null,
  };
  for (const [name, quantity] of Object.entries(names)) assert.equal(quantityOf(name), quantity, name);
});
