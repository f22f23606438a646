// Lot: everything on one lot, with its ribbon; where it came from and where it went.

import { took, ribbonSheet } from './along.js';
import { mark, openMarks, warning } from './certified.js';
import { byId, el, facts, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { meet } from './hold.js';
import { frame, trouble } from './frame.js';
import { jointSheet } from './jointmap.js';
import { limit, property, specLink, tensileGrade } from './measured.js';
import { decided } from './decided.js';
import { link, notes, sheet } from './parts.js';
import { lookBack } from './past.js';
import { patterns } from './ribbon.js';
import { strengthSheet } from './strength.js';
import { learnArea, t, term } from './words.js';

/** What a test measured, each figure in the unit its name ends in. */
const results = (list) =>
  Object.entries(list || {})
    .map(([name, value]) => `${term('field', name)} ${fmt.figure(name, value)}`)
    .join(', ');

function cameFrom(lot) {
  const rows = [];
  if (lot.received)
    rows.push([
      el('strong', null, t('from.received')),
      ' ',
      fmt.stamp(lot.received.at),
      ' ',
      link('entry', lot.received.seq, t('entry-n', { seq: lot.received.seq })),
    ]);
  if (lot.heat) rows.push([el('strong', null, t('type.heat')), ' ', link('heat', lot.heat), ' ', lot.grade || '']);
  if (lot.supply) rows.push([el('strong', null, t('type.supply')), ' ', link('supply', lot.supply)]);
  if (lot.from) {
    rows.push([
      el('strong', null, term('process', lot.from.process)),
      ' ',
      link('run', lot.from.run),
      el(
        'div',
        { class: 'soft' },
        t('from.run', {
          machine: lot.from.machine,
          from: fmt.lengthExact(lot.from.s0),
          to: fmt.lengthExact(lot.from.s1),
          at: fmt.stamp(lot.from.ended || lot.from.at),
        }),
      ),
    ]);
    if (lot.from.machine) rows.push([el('strong', null, t('type.machine')), ' ', link('machine', lot.from.machine)]);
    if (lot.from.batch) rows.push([el('strong', null, t('type.batch')), ' ', link('batch', lot.from.batch)]);
  }
  for (const b of lot.batches || []) {
    rows.push([
      el('strong', null, term('process', b.process)),
      ' ',
      link('batch', b.batch),
      el('div', { class: 'soft' }, t('from.batch', { machine: b.machine, at: fmt.stamp(b.started || b.ended) })),
    ]);
  }
  const inputs = lot.made?.in || [];
  if (inputs.length > 0)
    rows.push([
      el('strong', null, t('from.inputs')),
      ' ',
      [...new Set(inputs.map((i) => i.lot))].map((code) => [link('lot', code), ' ']),
    ]);
  return sheet(
    'from-title',
    t('lot.from'),
    rows.length === 0
      ? el('p', null, t('from.nothing'))
      : el(
          'ul',
          { class: 'links' },
          rows.map((r) => el('li', null, r)),
        ),
  );
}

function wentTo(lot) {
  const uses = lot.to.map((use) => {
    const target = { feed: ['run', use.run], sample: ['test', use.test], dispatch: ['consignment', use.consignment] }[
      use.what
    ];
    return el(
      'li',
      null,
      el('strong', null, t(`to.${use.what}`)),
      ' ',
      target ? link(...target) : null,
      el('div', { class: 'soft' }, took(use)),
      el('div', { class: 'quiet' }, fmt.stamp(use.at)),
    );
  });
  if (lot.consignment && !lot.to.some((u) => u.what === 'dispatch')) {
    uses.push(
      el(
        'li',
        null,
        el('strong', null, t('to.dispatch')),
        ' ',
        link('consignment', lot.consignment.consignment),
        ' ',
        lot.consignment.consignee,
        el('div', { class: 'quiet' }, fmt.stamp(lot.consignment.at)),
      ),
    );
  }
  return sheet(
    'to-title',
    t('lot.to'),
    uses.length === 0 ? el('p', null, t('to.nothing')) : el('ul', { class: 'links' }, uses),
    el(
      'p',
      null,
      el('strong', null, t('lot.left')),
      ' ',
      lot.left_mm > 0 ? `${fmt.length(lot.left_mm)} (${fmt.spans(lot.left)})` : t('to.none-left'),
    ),
  );
}

/** By what a test was judged, and the limit that it came nearest to or passed. */
function judgedBy(x) {
  if (!x.judged) return null;
  const worst = [...x.judged.margins].sort((a, b) => Math.sign(a.margin) - Math.sign(b.margin))[0];
  return el(
    'div',
    { class: 'quiet' },
    specLink(x.judged.spec),
    ` ${t('measured.version', { n: x.judged.version })}`,
    worst ? `: ${property(worst.property)} ${limit(worst.property, worst)}` : null,
  );
}

function tests(lot) {
  return sheet(
    'tests-title',
    t('lot.tests'),
    lot.tests.length === 0
      ? el('p', null, t('tests.none'))
      : table(
          [
            t('type.test'),
            t('column.verdict'),
            t('column.at'),
            t('column.results'),
            t('type.instrument'),
            t('column.when'),
          ],
          lot.tests.map((x) => [
            link('test', x.test),
[
              x.verdict ? el('span', { class: `verdict ${x.verdict}` }, t(`verdict.${x.verdict}`)) : t('verdict.open'),
              x.retest_of ? el('div', { class: 'quiet' }, t('field.retest_of'), ' ', link('test', x.retest_of)) : null,
              judgedBy(x),
            ],
            x.at_mm === null || x.at_mm === undefined ? t('not-known') : fmt.lengthExact(x.at_mm),
            results(x.results),
            x.instrument ? link('instrument', x.instrument) : '',
            fmt.stamp(x.at),
          ]),
          { numbers: [2] },
        ),
  );
}

/** Releases by which something that is left may only be worked again. */
const reworked = (lot) =>
  lot.holds.flatMap((h) =>
    h.released.filter((r) => r.disposition === 'rework' && meet(r.spans, lot.left).length > 0),
  );

function holds(lot) {
  if (lot.holds.length === 0) return null;
  return sheet(
    'holds-title',
    t('lot.holds'),
    el(
      'ul',
      { class: 'links' },
      lot.holds.map((h) =>
        el(
          'li',
          null,
          link('hold', h.hold),
          ' ',
          el('span', { class: `state ${h.open ? 'on-hold' : 'in-stock'}` }, t(h.open ? 'hold.open' : 'hold.released')),
          el('div', null, h.reason),
          el('div', { class: 'soft' }, fmt.spans(h.open ? h.open_spans : h.spans)),
          el('div', { class: 'quiet' }, fmt.stamp(h.at)),
          (h.released || []).map((r) =>
            el(
              'div',
              { class: 'soft' },
              t('hold.released-as', {
                disposition: decided(r),
                reason: r.reason,
                at: fmt.stamp(r.at),
              }),
              ' ',
              fmt.spans(r.spans),
            ),
          ),
          h.open ? el('a', { href: api.url('board.html', { hold: h.hold }) }, t('hold.release')) : null,
        ),
      ),
    ),
  );
}

function papers(lot) {
  const certificates = lot.certificates.map((c) =>
    el(
      'li',
      null,
      link('certificate', c.certificate),
      ' ',
      t('certificate.type', { type: c.type }),
      el('div', { class: 'quiet' }, fmt.stamp(c.at)),
      c.withdrawn
        ? el(
            'div',
            { class: 'verdict fail' },
            t('certificate.withdrawn', { reason: c.withdrawn.reason, at: fmt.stamp(c.withdrawn.at) }),
          )
        : warning(c),
      c.state === 'marked' ? el('ul', { class: 'links' }, openMarks(c).map(mark)) : null,
    ),
  );
  return sheet(
    'papers-title',
    t('lot.certificates'),
    certificates.length === 0 ? el('p', null, t('certificates.none')) : el('ul', { class: 'links' }, certificates),
  );
}

function balance(sum) {
  if (!sum) return null;
  const own = [
    ...sum.taken.map((x) => [
      term('balance', x.what),
      x.code ? el('span', { class: 'code' }, x.code) : '',
      fmt.length(x.length_mm),
      fmt.mass(x.mass_g),
    ]),
    [t('balance.left'), '', fmt.length(sum.left_mm), fmt.mass(sum.left_g)],
    [t('balance.unaccounted'), '', fmt.length(sum.unaccounted_mm), ''],
  ];
  const heads = [t('column.what'), t('column.code'), t('column.length'), t('column.mass')];
  const made = sum.made_by;
  return sheet(
    'balance-title',
    t('lot.balance'),
    table(heads, own, {
      caption: t('balance.own', { length: fmt.length(sum.length_mm), mass: fmt.mass(sum.mass_g) }),
      numbers: [2, 3],
    }),
    made
      ? el(
          'details',
          null,
          el('summary', null, t('balance.made', { run: made.run })),
          table(
            heads,
            [
              ...made.in.map((x) => [t('balance.in'), link('lot', x.lot), fmt.length(x.length_mm), fmt.mass(x.mass_g)]),
              ...made.out.map((x) => [
                t(x.lot ? 'balance.out' : 'balance.scrap'),
                x.lot ? link('lot', x.lot) : '',
                fmt.length(x.length_mm),
                fmt.mass(x.mass_g),
              ]),
              [t('balance.unaccounted'), '', '', fmt.mass(made.unaccounted_g)],
            ],
            { caption: t('balance.run'), numbers: [2, 3] },
          ),
          el('p', null, el('a', { href: api.url('balance.html', { origin: `run:${made.run}` }) }, t('balance.see'))),
        )
      : null,
  );
}

function title(lot) {
  return [
    el(
      'div',
      { class: 'title' },
      el('h1', null, term('kind', lot.kind), ' ', el('span', { class: 'code' }, lot.lot)),
      el('span', { class: `state ${lot.state}` }, t(`state.${lot.state}`)),
    ),
    lot.entry?.corrected
      ? el(
          'p',
          { class: 'warn' },
          t('lot.corrected'),
          ' ',
          link('entry', lot.entry.seq, t('entry-n', { seq: lot.entry.seq })),
        )
      : null,
    lot.holds.some((h) => h.open) ? el('p', { class: 'caution' }, t('caution.lot-held')) : null,
    reworked(lot).length > 0 ? el('p', { class: 'caution' }, t('lot.to-rework')) : null,
    el(
      'section',
      { class: 'sheet', 'aria-label': t('lot.facts') },
      facts([
        [
          t('lot.length'),
          `${fmt.lengthExact(lot.length_mm)}${lot.length_from === 'mass' ? ` (${t('lot.computed')})` : ''}`,
        ],
        [t('lot.left'), fmt.length(lot.left_mm)],
        [
          t('lot.mass'),
          lot.mass_g === null
            ? null
            : `${fmt.mass(lot.mass_g)}${lot.mass_from ? ` (${t(`mass-from.${lot.mass_from}`)})` : ''}`,
        ],
        [t('lot.diameter'), lot.diameter_um ? fmt.diameter(lot.diameter_um) : null],
        [t('lot.measured'), (lot.measured_um || []).map((um) => fmt.diameter(um)).join(', ')],
        [t('lot.construction'), lot.construction],
        [t('lot.grade'), lot.grade],
        [t('field.tensile_grade_kpa'), tensileGrade(lot.tensile_grade_kpa)],
        [t('type.heat'), link('heat', lot.heat)],
        [t('lot.location'), lot.location],
        [t('lot.order'), lot.order],
      ]),
      el(
        'div',
        { class: 'actions' },
        el('a', { class: 'button main', href: api.recallOf('lot', lot.lot) }, t('lot.ask.forward')),
        el('a', { class: 'button', href: api.recallOf('lot', lot.lot, 'back') }, t('lot.ask.back')),
        el('a', { class: 'button', href: api.genealogyOf('lot', lot.lot) }, t('genealogy.see')),
        el('a', { class: 'button', href: api.url('log.html', { kind: 'hold', lot: lot.lot }) }, t('lot.hold')),
        el('button', { type: 'button', click: () => print() }, t('print')),
      ),
    ),
  ];
}

async function main() {
  await learnArea('measured');
  frame('lot');
  lookBack();
  patterns();
  const code = new URLSearchParams(location.search).get('lot') || '';
  const place = byId('lot');
  try {
    const [lot, makeup, joints, sum] = await Promise.all([
      api.lot(code),
      api.makeup(code, { by: 'heat' }),
      api.joints(code),
      api.balance(code).catch(() => null),
    ]);
    document.title = t('title', { page: lot.lot });
    lot.made = sum?.made_by;
    const ribbon = ribbonSheet(lot, makeup, joints);
    put(
      place,
      title(lot),
      ribbon.node,
      el('div', { class: 'spaced' }, jointSheet(lot, joints), strengthSheet(lot)),
      el('div', { class: 'two' }, cameFrom(lot), wentTo(lot)),
      el('div', { class: 'spaced' }, tests(lot), holds(lot)),
      el('div', { class: 'two' }, papers(lot), notes(lot, `lot:${lot.lot}`)),
      el('div', { class: 'spaced' }, balance(sum)),
      el(
        'p',
        { class: 'head-line' },
        t('at-head', { size: lot.ledger.size }),
        ' ',
        el('span', { class: 'code' }, fmt.shortHash(lot.ledger.root)),
      ),
    );
    ribbon.draw();
  } catch (problem) {
    trouble(place, problem);
    place.append(el('p', null, el('a', { href: 'index.html' }, t('back-to-find'))));
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

await learnArea('quality');
main();
