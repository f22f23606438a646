// On a lot's page: the strength of a rope from its own wires, beside the catalogue's figures and its own test to
// destruction.

import { el, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { trouble } from './frame.js';
import { tensileGrade } from './measured.js';
import { link, sheet } from './parts.js';
import { t } from './words.js';

/** Kinds of lot that wires lie in. */
export const LAID = ['strand', 'core', 'rope', 'reel'];
const UM2_MM2 = 1e6;
const FEW = 12;

const area = (um2) =>
  um2 === null ? t('not-known') : fmt.units() === 'us' ? `${fmt.plainFigure(Math.round(um2 / 64516) / 10000)}\u00a0in\u00b2` : `${fmt.plainFigure(Math.round(um2 / (UM2_MM2 / 100)) / 100)}\u00a0mm\u00b2`;
/** g/km is mg/m; 1 lb/ft = 1.488 164 kg/m. */
const massPer = (gKm) =>
  gKm === null ? t('not-known') : fmt.units() === 'us' ? `${fmt.plainFigure(Math.round(gKm / 1488.164) / 1000)}\u00a0lb/ft` : `${fmt.plainFigure(Math.round(gKm / 1000) / 1000)}\u00a0kg/m`;
const force = (n) => (n === null ? t('not-known') : fmt.figure('breaking_n', n));
const milli = (n) => fmt.plainFigure(n / 1000);

/** Figures by row: what its wires give, what the catalogue gives, and by how much they differ. */
function compare(s, grade) {
  const whole = s.wires_milli > 0 && s.tested_milli === s.wires_milli;
  const c = s.catalogue;
  const minimum = c?.minimum.find((m) => m.grade_kpa === grade);
  const minima = minimum ? [minimum] : c?.minimum || [];
  return table(
    [t('strength.figure'), t('strength.own'), ...(c ? [t('strength.catalogue', { class: c.class, core: t(`strength.core.${c.core}`) })] : [])],
    [
      [t(whole ? 'strength.aggregate' : 'strength.aggregate.part'), force(s.aggregate_n), ...(c ? [''] : [])],
      ...minima.map((m) => [t('strength.minimum', { grade: tensileGrade(m.grade_kpa) }), '', force(m.force_n)]),
      [t('strength.area'), area(s.area_um2), ...(c ? [area(c.area_um2)] : [])],
      [t('strength.mass'), massPer(s.mass_g_km), ...(c ? [massPer(c.mass_g_km)] : [])],
      ...s.tested.map((x) => [
        [t('strength.test', { test: '' }), link('test', x.test), x.lot === s.lot ? null : [' ', t('strength.of'), ' ', link('lot', x.lot)]],
        force(x.breaking_n),
        ...(c ? [x.realisation_ppm === null ? '' : `${t('strength.realisation')}: ${fmt.percent(Math.round(x.realisation_ppm / 1000) * 1000)}`] : []),
      ]),
    ],
    { numbers: [1, 2] },
  );
}

function wires(s) {
  return el(
    'details',
    null,
    el('summary', null, t('strength.by')),
    table(
      [t('type.lot'), t('lot.diameter'), t('strength.count'), t('column.length'), t('strength.breaking'), t('specs.tests')],
      s.wires.map((w) => [
        link('lot', w.lot),
        w.diameter_um === null ? t('not-known') : fmt.diameter(w.diameter_um),
        milli(w.wires_milli),
        fmt.length(w.length_mm),
        force(w.breaking_n),
        w.from ? [t(`strength.from.${w.from}`), ' ', w.tests.slice(0, 6).map((code) => [link('test', code), ' '])] : t('strength.none'),
      ]),
      { numbers: [1, 2, 3, 4] },
    ),
  );
}

/** The lots of wire that an aggregate would still need a test of. */
function untested(s) {
  const lots = s.wires.filter((w) => w.breaking_n === null);
  if (lots.length === 0) return null;
  return el(
    'p',
    null,
    `${t('strength.untested.which')} `,
    lots.slice(0, FEW).map((w, i) => [i ? ', ' : '', link('lot', w.lot)]),
    lots.length > FEW ? ` ${t('and-more', { n: lots.length - FEW })}` : null,
  );
}

/** The sheet; it fills itself when the answer is there. */
export function strengthSheet(lot) {
  if (!LAID.includes(lot.kind)) return null;
  const place = el('div');
  api
    .strength(lot.lot)
    .then((s) =>
      put(
        place,
        el(
          'p',
          null,
          `${t('strength.wires')}: ${milli(s.wires_milli)}, ${t('strength.tested')}: ${milli(s.tested_milli)}.`,
          s.tested_milli < s.wires_milli ? ` ${t('strength.untested')}` : null,
        ),
        untested(s),
        compare(s, lot.tensile_grade_kpa),
        s.catalogue
          ? el('p', { class: 'quiet' }, t('strength.source', { source: s.catalogue.source }), s.catalogue.from_memory ? ` ${t('strength.memory')}` : '')
          : s.construction
            ? el('p', { class: 'quiet' }, t('strength.no-class', { construction: s.construction }))
            : null,
        ['rope', 'reel'].includes(lot.kind) ? el('p', { class: 'caution' }, t('strength.caution')) : null,
        wires(s),
      ),
    )
    .catch((problem) => trouble(place, problem));
  return sheet('strength-title', t('strength.title'), place);
}
