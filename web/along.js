// A lot along its length: its ribbon with a choice of what the bands are, and the same in tables.

import { el, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { wayIn } from './said.js';
import { trouble } from './frame.js';
import { link } from './parts.js';
import { Ribbon, anywhere, bandSign, bands } from './ribbon.js';
import { t, term } from './words.js';

/** What took a length of a lot, in words. */
export function took(use) {
  const at = fmt.spans([[use.from_mm, use.to_mm]]);
  if (use.what === 'feed')
    return t('took.feed', { run: use.run, process: term('process', use.process), line: use.line, at });
  if (use.what === 'sample') return t('took.sample', { test: use.test, at });
  if (use.what === 'dispatch') return t('took.dispatch', { consignee: use.consignee, at });
  return t('took.scrap', { reason: use.reason || t('not-known'), at });
}

const heatName = (part) => part.heat || part.supply || t('heat.unknown');

function model(lot, makeup, joints) {
  const byHeat = makeup.by === 'heat';
  return {
    lot: lot.lot,
    length: makeup.length_mm ?? lot.length_mm,
    bandsName: t(byHeat ? 'ribbon.heats' : 'ribbon.lots'),
    bands: bands(makeup.parts, byHeat ? heatName : (part) => part.lot),
    joints: joints.joints,
    samples: lot.tests
      .filter((x) => x.at_mm !== null && x.at_mm !== undefined)
      .map((x) => ({ ...x, from: x.at_mm, to: x.at_mm + (x.sample_mm || 0) })),
    holds: lot.holds.filter((h) => h.open).map((h) => ({ hold: h.hold, spans: h.open_spans })),
    left: lot.left,
    taken: lot.to.map((use) => ({ from_mm: use.from_mm, to_mm: use.to_mm, text: took(use) })),
  };
}

function bandTable(drawn, byHeat) {
  const rows = drawn.bands.map((b) => [
    el(
      'span',
      null,
      bandSign(b),
      ' ',
      byHeat ? (b.heat ? link('heat', b.heat) : link('supply', b.supply) || b.name) : link('lot', b.lot),
    ),
    byHeat ? [b.supplier, b.grade].filter(Boolean).join(', ') : term('kind', b.kind),
    fmt.spans(b.certain),
    fmt.spans(b.possible),
  ]);
  return table(
    [
      t(byHeat ? 'type.heat' : 'type.lot'),
      t(byHeat ? 'column.supplier' : 'column.kind'),
      t('verdict.certain'),
      t('verdict.possible'),
    ],
    rows,
    { caption: drawn.bandsName },
  );
}

function jointTable(joints) {
  const made = { weld: 'made.weld', braze: 'made.braze', tuck: 'made.tuck' };
  return table(
    [t('column.at'), t('type.weld'), t('column.how'), t('column.path'), t('column.range')],
    joints.map((j) => [
      j.at_mm === null ? t('not-known') : fmt.lengthExact(j.at_mm),
      link('weld', j.weld),
      t(made[j.made_by] || 'made.weld'),
      el('span', null, link('run', j.made_in), (j.path || []).length > 0 ? ` \u2190 ${j.path.map(wayIn).join(' \u2190 ')}` : ''),
      fmt.spans([j.possible]),
    ]),
    { caption: t('joints.caption'), numbers: [0] },
  );
}

/**
 * The ribbon's sheet: choose what the bands are; below it the same in tables. `mark` is put behind its ids where a page
 * has more than one, and the lot is named then.
 */
export function ribbonSheet(lot, makeup, joints, mark = null) {
  const place = el('div', { class: 'ribbon' });
  const text = el('div');
  const draw = (made) => {
    const drawn = model(lot, made, joints);
    new Ribbon(place, drawn);
    put(
      text,
      bandTable(drawn, made.by === 'heat'),
      joints.joints.length > 0 ? jointTable(joints.joints) : el('p', { class: 'quiet' }, t('joints.none')),
    );
  };
  const choice = el(
    'select',
    {
      id: `bands${mark || ''}`,
      change: async () => {
        const [by, kind] = choice.value.split(':');
        try {
          draw({ by, ...(await api.makeup(lot.lot, { by, kind })) });
        } catch (problem) {
          trouble(text, problem);
        }
      },
    },
    [
      ['heat', t('bands.heat')],
      ...['rod', 'coil', 'bobbin', 'strand', 'core', 'rope'].map((k) => [
        `lot:${k}`,
        t('bands.lots', { kind: term('many', k) }),
      ]),
    ].map(([value, words]) => el('option', { value }, words)),
  );
  const loose = joints.joints.filter((j) => anywhere(j, lot.length_mm)).length;
  const node = el(
    'section',
    { class: 'sheet ribbon-sheet', 'aria-labelledby': `ribbon-title${mark || ''}` },
    el(
      'div',
      { class: 'filters' },
      el('h2', { id: `ribbon-title${mark || ''}` }, t('ribbon.title'), mark === null ? null : [' ', link('lot', lot.lot)]),
      el('div', { class: 'field grow' }, el('label', { for: `bands${mark || ''}` }, t('bands')), choice),
    ),
    place,
    el('p', { class: 'quiet' }, t('ribbon.key'), ' ', loose > 0 ? t('joints.anywhere', { n: loose }) : null),
    el('details', null, el('summary', null, t('ribbon.as-table')), text),
  );
  return { node, draw: () => draw({ by: 'heat', ...makeup }) };
}
