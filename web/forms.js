// The kinds of entry that a person makes, each described by its fields. Drawing, reading and checking a form is the
// same for all (fields.js); a new kind is a row here and its words.

import { PROPERTIES } from './measured.js';

export const KINDS_OF_LOT = ['rod', 'coil', 'bobbin', 'strand', 'core', 'rope', 'reel'];
export const PROCESSES = ['clean', 'draw', 'patent', 'galvanise', 'wind', 'strand', 'close', 'compact', 'coat', 'cut'];

const code = (name, of, more = {}) => ({ name, as: 'code', of, ...more });
const fresh = (name) => ({ name, as: 'code', of: null, need: true });
const text = (name, more = {}) => ({ name, as: 'text', ...more });
const figure = (name, quantity, more = {}) => ({ name, as: 'quantity', quantity, ...more });
const choice = (name, group, options, more = {}) => ({ name, as: 'choice', group, options, ...more });
const time = (name) => ({ name, as: 'time' });
const whole = (name, more = {}) => ({ name, as: 'whole', ...more });
const codes = (name, of, more = {}) => ({ name, as: 'codes', of, ...more });
const rows = (name, fields, more = {}) => ({ name, as: 'rows', fields, least: 0, ...more });

const reason = { name: 'reason', as: 'long', need: true };
const part = [figure('from_mm', 'length'), figure('to_mm', 'length')];
const lotPart = rows('lots', [code('lot', 'lot', { need: true }), ...part], { least: 1 });
const settings = { name: 'settings', as: 'pairs' };

const feed = [
  code('lot', 'lot', { need: true }),
  figure('from_mm', 'length'),
  figure('to_mm', 'length'),
  figure('take_mm', 'length'),
  choice('off', 'off', ['outer', 'inner']),
  code('weld', null),
  choice('join', 'join', ['weld', 'braze', 'tuck']),
  figure('seen_at_mm', 'length'),
  figure('affected_mm', 'short'),
];

const packed = [
  code('lot', null),
  choice('kind', 'kind', KINDS_OF_LOT),
  figure('length_mm', 'length'),
  figure('mass_g', 'mass'),
  figure('diameter_um', 'diameter'),
  text('construction'),
  figure('tensile_grade_kpa', 'stress'),
  time('doffed'),
  text('location'),
  figure('scrap_mm', 'length'),
  text('reason'),
];

const results = {
  name: 'results',
  as: 'group',
  fields: [
    figure('diameter_um', 'diameter'),
    figure('tensile_kpa', 'stress'),
    whole('torsions'),
    whole('bends'),
    figure('breaking_n', 'force'),
    whole('zinc_mg_m2'),
    figure('lay_um', 'diameter'),
    whole('reduction_ppm'),
  ],
};

/* A hold's end, and another person's word for it, say the same. */
const disposed = [
  code('hold', 'hold', { need: true }),
  choice('disposition', 'disposition', ['release', 'concession', 'rework', 'regrade', 'scrap'], { need: true }),
  reason,
  { name: 'into', as: 'choices', group: 'process', options: PROCESSES, when: { disposition: 'rework' } },
  text('grade', { when: { disposition: 'regrade' } }),
  rows('lots', [code('lot', 'lot', { need: true }), ...part]),
];

/**
 * Kind of entry: its fields in the order one fills them in, and the caution that goes with it, if any. `elsewhere`: it is
 * made on a page of its own, and the form here is for putting one right.
 */
export const KINDS = {
  receive: {
    fields: [
      fresh('lot'),
      choice('kind', 'kind', KINDS_OF_LOT),
      code('heat', 'heat'),
      code('supply', 'supply'),
      figure('diameter_um', 'diameter', { need: true }),
      figure('length_mm', 'length'),
      figure('mass_g', 'mass'),
      { name: 'measured_um', as: 'figures', quantity: 'diameter' },
      figure('tensile_grade_kpa', 'stress'),
      text('order'),
      text('location'),
    ],
  },
  heat: {
    fields: [
      fresh('heat'),
      text('supplier', { need: true }),
      text('grade', { need: true }),
      text('mill_certificate'),
      { name: 'analysis_ppm', as: 'pairs', numbers: true },
    ],
  },
  supply: {
    fields: [
      fresh('supply'),
      text('what', { need: true }),
      text('supplier', { need: true }),
      text('supplier_lot'),
      settings,
    ],
  },
  batch: {
    fields: [
      fresh('batch'),
      choice('process', 'process', PROCESSES, { need: true }),
      code('machine', 'machine', { need: true }),
      time('started'),
      time('ended'),
      rows('lots', [code('lot', 'lot', { need: true }), ...part]),
      settings,
    ],
  },
  run: {
    fields: [
      fresh('run'),
      choice('process', 'process', PROCESSES, { need: true }),
      code('machine', 'machine', { need: true }),
      time('started'),
      time('ended'),
      code('batch', 'batch'),
      text('order'),
      whole('tolerance_ppm'),
      codes('supplies', 'supply'),
      rows('lines', [text('line', { need: true, numbered: true }), rows('feeds', feed, { least: 1 })], { least: 1 }),
      rows('packages', packed, { least: 1 }),
      settings,
      { name: 'override', as: 'group', fields: [text('reason')] },
    ],
  },
  /* the steps of a run that is logged as it happens, on the shop floor */
  open: {
    elsewhere: true,
    fields: [
      fresh('run'),
      choice('process', 'process', PROCESSES, { need: true }),
      code('machine', 'machine', { need: true }),
      time('started'),
      code('batch', 'batch'),
      text('order'),
      whole('tolerance_ppm'),
      codes('supplies', 'supply'),
      { name: 'lines', as: 'labels', need: true, hint: 'hint.labels' },
      settings,
    ],
  },
  load: {
    elsewhere: true,
    fields: [code('run', 'run', { need: true }), text('line', { need: true }), ...feed],
  },
  doff: {
    elsewhere: true,
    fields: [code('run', 'run', { need: true }), ...packed],
  },
  close: {
    elsewhere: true,
    fields: [
      code('run', 'run', { need: true }),
      time('ended'),
      rows('left', [text('line', { need: true }), figure('left_mm', 'length', { need: true })]),
    ],
  },
  test: {
    fields: [
      fresh('test'),
      code('lot', 'lot', { need: true }),
      figure('at_mm', 'length'),
      figure('sample_mm', 'short'),
      code('instrument', 'instrument'),
      results,
      { name: 'readings', as: 'measured' },
      choice('verdict', 'verdict', ['pass', 'fail']),
      code('retest_of', 'test'),
    ],
  },
  hold: { caution: 'caution.hold', fields: [fresh('hold'), reason, lotPart] },
  release: { caution: 'caution.release', fields: disposed },
  scrap: { fields: [code('lot', 'lot', { need: true }), ...part, reason] },
  certify: {
    caution: 'caution.certify',
    fields: [
      fresh('certificate'),
      choice('type', 'certificate-type', ['2.2', '3.1', '3.2'], { need: true }),
      codes('reels', 'lot', { need: true }),
      codes('tests', 'test'),
      { name: 'statement', as: 'long' },
    ],
  },
  withdraw: { caution: 'caution.withdraw', fields: [code('certificate', 'certificate', { need: true }), reason] },
  clear: {
    caution: 'caution.clear',
    fields: [code('certificate', 'certificate', { need: true }), reason, codes('holds', 'hold')],
  },
  dispatch: {
    caution: 'caution.dispatch',
    fields: [fresh('consignment'), text('consignee', { need: true }), codes('lots', 'lot', { need: true })],
  },
  move: { fields: [codes('lots', 'lot', { need: true }), text('location', { need: true })] },
  order: {
    fields: [
      fresh('order'),
      text('customer'),
      choice('process', 'process', PROCESSES),
      text('grade'),
      figure('diameter_um', 'diameter'),
      figure('diameter_tolerance_um', 'diameter'),
      text('construction'),
      figure('tensile_grade_kpa', 'stress'),
      figure('joint_distance_mm', 'short'),
      { name: 'one_heat', as: 'tick' },
      code('machine', 'machine'),
      rows('pieces', [figure('length_mm', 'length', { need: true }), whole('n', { need: true })]),
    ],
  },
  instrument: {
    elsewhere: true,
    fields: [
      fresh('instrument'),
      text('what', { need: true }),
      time('calibrated'),
      time('valid_until'),
      choice('found', 'instruments.found', ['good', 'bad']),
      { name: 'note', as: 'long' },
    ],
  },
  spec: {
    elsewhere: true,
    caution: 'specs.caution',
    fields: [
      fresh('spec'),
      whole('version', { need: true }),
      choice('what', 'what', ['rod', 'wire', 'strand', 'core', 'rope'], { need: true, words: 'specs.scope' }),
      text('grade'),
      figure('tensile_grade_kpa', 'stress'),
      text('construction'),
      figure('diameter_from_um', 'diameter'),
      figure('diameter_below_um', 'diameter'),
      { name: 'limits', as: 'measured', of: ['min', 'max'], need: true },
      rows('tests', [
        choice('property', 'field', PROPERTIES, { need: true }),
        choice('per', 'per', ['lot', 'run'], { need: true }),
        whole('n', { need: true }),
      ], { need: true, words: 'specs.tests' }),
      whole('retests'),
      whole('joint_multiple'),
      figure('joint_of_um', 'diameter'),
      choice('heats', 'specs.heats', ['one', 'any']),
      { name: 'tolerance_ppm', as: 'pairs', hint: 'hint.tolerances' },
      text('source'),
    ],
  },
  note: {
    fields: [
      { name: 'about', as: 'origin', need: true },
      { name: 'text', as: 'long', need: true },
    ],
  },
  correct: { fields: [{ name: 'entry', as: 'entry', need: true }, reason, { name: 'body', as: 'body', need: true }] },
  void: { caution: 'caution.void', fields: [{ name: 'entry', as: 'entry', need: true }, reason] },
};
