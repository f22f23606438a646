// What the pages about measuring share: the properties there are words for, and how a limit and a product are said.

import { el } from './dom.js';
import * as fmt from './format.js';
import { url } from './api.js';
import { t, term } from './words.js';

export const PROPERTIES = [
  'tensile_kpa',
  'diameter_um',
  'diameter_range_um',
  'torsions',
  'bends',
  'breaking_n',
  'zinc_mg_m2',
  'lay_um',
  'reduction_ppm',
];

/** A property by its word; one that has none by its name. */
export const property = (name) => term('field', name);

/** "1 770 to 2 090 MPa", "at least 26", "at most 0.64 mm" */
export function limit(name, { min, max }) {
  if (min === null && max === null) return t('measured.no-limit');
  if (min === null) return t('measured.at-most', { max: fmt.figure(name, max) });
  if (max === null) return t('measured.at-least', { min: fmt.figure(name, min) });
  return t('from-to', { from: fmt.figure(name, min), to: fmt.figure(name, max) });
}

/** The tensile grade as the trade writes it: 1770. */
export const tensileGrade = (kpa) => (kpa === null || kpa === undefined ? null : `${fmt.count(kpa / 1000).replace(/\D/g, '')}`);

/** "bobbin, 1.05 mm, grade 1770, C82D" */
export function product(p) {
  return [
    term('kind', p.kind),
    p.diameter_um ? fmt.diameter(p.diameter_um) : null,
    p.construction,
    p.tensile_grade_kpa ? t('measured.grade', { grade: tensileGrade(p.tensile_grade_kpa) }) : null,
    p.grade,
  ]
    .filter(Boolean)
    .join(', ');
}

/** A link to the page of a specification. */
export const specLink = (code, text = code) => el('a', { class: 'code', href: url('specs.html', { spec: code }) }, text);

/** What a specification is for: "wire, grade 1770, from 1 mm below 1.5 mm" */
export function scope(s) {
  const diameter = (um) => fmt.diameter(um);
  return [
    t(`what.${s.what}`),
    s.construction,
    s.tensile_grade_kpa ? t('measured.grade', { grade: tensileGrade(s.tensile_grade_kpa) }) : null,
    s.grade,
    s.diameter_from_um && s.diameter_below_um === s.diameter_from_um + 1 ? diameter(s.diameter_from_um) : null,
    s.diameter_from_um && s.diameter_below_um !== s.diameter_from_um + 1 ? t('chart.from', { from: diameter(s.diameter_from_um) }) : null,
    s.diameter_below_um && s.diameter_below_um !== s.diameter_from_um + 1 ? t('chart.below', { below: diameter(s.diameter_below_um) }) : null,
  ]
    .filter(Boolean)
    .join(', ');
}

/** The margins of a test, a row a property. */
export const marginRows = (margins) =>
  margins.map((m) => [
    property(m.property),
    fmt.figure(m.property, m.value),
    limit(m.property, m),
    `${m.margin < 0 ? '\u2715' : '\u2713'} ${t(m.margin < 0 ? 'measured.beyond' : 'measured.within', { by: fmt.figure(m.property, Math.abs(m.margin)) })}`,
  ]);
