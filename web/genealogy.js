// Genealogy: of a lot, a heat, a certificate, a batch, a run, anything a trace starts from, all that the report in PDF says,
// to be read, searched and printed: contents, the ribbons, the lots by stage, the runs, treatments, tests, holds, papers,
// joints, corrections, findings, notes, and the head. One answer of the API is drawn, so that it holds together.

import { byId, el, facts, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { ribbonSheet } from './along.js';
import { openMarks, mark, standing } from './certified.js';
import { inOrder } from './flow.js';
import { frame, trouble } from './frame.js';
import { longTable } from './longtable.js';
import { link, sheet } from './parts.js';
import { lookBack } from './past.js';
import { fromAddress, originOf, questionForm } from './question.js';
import { patterns, rowRibbon } from './ribbon.js';
import { findingText } from './said.js';
import { learnArea, t, term } from './words.js';

const RIBBONS = 8; /* lots drawn along their length; of a question that starts with more, the tables have the rest */
const MANY = 4; /* spans that are told one by one */
const BACK = ['lot', 'certificate', 'consignment']; /* asked what they are made of, unless another way is said */

const none = () => el('p', null, t('genealogy.none'));
const entryLink = (seq) => link('entry', seq, t('entry-n', { seq }));
const place = (from, to) => fmt.spans([[from, to]]);
const period = (started, ended) => [
  started ? fmt.stamp(started) : t('not-known'),
  el('br'),
  ended ? fmt.stamp(ended) : t('not-known'),
];

/** Spans; many of them by their ends and their sum, with the rest below. The ribbon beside them shows where they are. */
const spansCell = (list) =>
  list.length <= MANY
    ? fmt.spans(list)
    : el(
        'details',
        { class: 'spans-many' },
        el(
          'summary',
          null,
          t('genealogy.spans', {
            n: list.length,
            within: place(list[0][0], list[list.length - 1][1]),
            sum: fmt.lengthExact(fmt.spansLength(list)),
          }),
        ),
        el('div', null, fmt.spans(list)),
      );

/* --- the metal ------------------------------------------------------------------------------------- */

/* An analysis is told as it is sold: in per cent. */
const analysis = (ppm) =>
  Object.entries(ppm || {})
    .map(([element, value]) => `${element} ${fmt.percent(value)}`)
    .join(', ');

const materialTable = (list) =>
  longTable(
    [t('genealogy.material'), t('genealogy.grade'), t('genealogy.supplier'), t('genealogy.paper'), t('genealogy.analysis'), t('type.entry')],
    list,
    (m) => [
      m.heat ? link('heat', m.heat) : link('supply', m.supply),
      m.grade || '',
      m.supplier || '',
      m.mill_certificate || m.supplier_lot || '',
      m.what || analysis(m.analysis_ppm),
      entryLink(m.entry),
    ],
    { cls: 'genealogy-wide' },
  );

/* --- the lots by stage ------------------------------------------------------------------------------ */

const became = (x) =>
  x.consignment
    ? [link('consignment', x.consignment), ' ', x.consignee || '']
    : [
        el('span', { class: `state ${x.state}` }, t(`state.${x.state}`)),
        x.left_mm > 0 ? ` ${t('row.left', { length: fmt.length(x.left_mm) })}` : '',
        x.location ? `, ${x.location}` : '',
      ];

function origin(x, received) {
  if (x.run) return link('run', x.run);
  const from = received.get(x.lot) || {};
  return link('heat', from.heat) || link('supply', from.supply) || t('heat.unknown');
}

function stages({ trace, received }) {
  const from = new Map(received.map((r) => [r.lot, r]));
  return inOrder(trace.totals)
    .reverse()
    .map((total) => [
      el('h3', null, t(`kinds.${total.kind}`, { n: total.lots })),
      longTable(
        [t('column.lot'), t('genealogy.from'), t('column.where'), t('genealogy.certain'), t('genealogy.possible'), t('column.state')],
        trace.lots.filter((x) => x.kind === total.kind),
        (x) => [
          link('lot', x.lot),
          origin(x, from),
          rowRibbon(x),
          spansCell(x.certain),
          spansCell(x.possible),
          became(x),
        ],
        { cls: 'genealogy-lots', caption: t('genealogy.stage', { kind: term('kind', total.kind) }) },
      ),
    ]);
}

/* --- the runs --------------------------------------------------------------------------------------- */

const settingsOf = (settings) =>
  Object.entries(settings || {})
    .map(([name, value]) => `${name} ${value}`)
    .join(', ');

const through = (run) =>
  el(
    'details',
    null,
    el('summary', null, t('genealogy.through', { fed: run.feeds.length, made: run.packages.length })),
    el(
      'ul',
      { class: 'genealogy-through' },
      run.feeds.map((f) =>
        el(
          'li',
          null,
          t('genealogy.fed', { line: f.line }),
          ' ',
          link('lot', f.lot),
          ' ',
          place(f.from_mm, f.to_mm),
          f.weld ? [', ', t('genealogy.after'), ' ', link('weld', f.weld)] : null,
        ),
      ),
      run.packages.map((p) => el('li', null, t('genealogy.made'), ' ', link('lot', p.lot), ' ', place(p.s0_mm, p.s1_mm))),
    ),
    run.feeds.length < run.feeds_in_all || run.packages.length < run.packages_in_all
      ? el('p', { class: 'quiet' }, t('genealogy.through.part', { fed: run.feeds_in_all, made: run.packages_in_all }))
      : null,
  );

const runTable = (runs) =>
  longTable(
    [t('genealogy.run'), t('genealogy.machine'), t('genealogy.times'), t('genealogy.settings'), t('genealogy.in-out'), t('genealogy.who')],
    runs,
    (run) => [
      link('run', run.run),
      [term('process', run.process), ' ', link('machine', run.machine)],
      run.under_way ? [run.started ? fmt.stamp(run.started) : t('not-known'), el('br'), t('genealogy.under-way')] : period(run.started, run.ended),
      [settingsOf(run.settings), (run.supplies || []).map((s) => [' ', link('supply', s)])],
      through(run),
      [
        t('by-at', { by: run.by, at: t('entry-n', { seq: run.entry }) }),
        run.standing === 'corrected' ? [el('br'), t('genealogy.corrected')] : null,
      ],
    ],
    { cls: 'genealogy-runs', caption: t('genealogy.runs.what') },
  );

const batchTable = (batches) =>
  longTable(
    [t('type.batch'), t('genealogy.machine'), t('genealogy.times'), t('column.lot'), t('genealogy.place')],
    batches,
    (b) => [link('batch', b.batch), [term('process', b.process), ' ', b.machine], period(b.started, b.ended), link('lot', b.lot), fmt.spans(b.spans)],
    { cls: 'genealogy-wide' },
  );

/* --- the papers ------------------------------------------------------------------------------------- */

const testTable = (tests) =>
  longTable(
    [t('type.test'), t('column.lot'), t('genealogy.place'), t('genealogy.results'), t('genealogy.verdict'), t('type.entry')],
    tests,
    (x) => [
      link('test', x.test),
      link('lot', x.lot),
      x.at_mm === null ? t('not-known') : fmt.length(x.at_mm),
      Object.entries(x.results)
        .map(([name, value]) => `${term('field', name)} ${fmt.figure(name, value)}`)
        .join('; '),
      x.verdict ? t(`verdict.${x.verdict}`) : t('verdict.open'),
      entryLink(x.entry),
    ],
    { cls: 'genealogy-wide' },
  );

const freed = (f) =>
  el('li', null, `${term('disposition', f.disposition)}: ${fmt.spans(f.spans)}, ${fmt.stamp(f.at)}. ${f.reason} `, entryLink(f.entry));

const holdTable = (holds) =>
  longTable(
    [t('type.hold'), t('column.lot'), t('genealogy.place'), t('genealogy.reason'), t('genealogy.became'), t('genealogy.open')],
    holds,
    (h) => [link('hold', h.hold), link('lot', h.lot), fmt.spans(h.spans), h.reason, el('ul', { class: 'bare' }, h.freed.map(freed)), fmt.spans(h.open)],
    { cls: 'genealogy-wide' },
  );

const paperTable = (papers) =>
  longTable(
    [t('column.lot'), t('genealogy.paper.which'), t('genealogy.when'), t('genealogy.stands')],
    papers,
    (p) =>
      p.consignment
        ? [link('lot', p.lot), link('consignment', p.consignment), fmt.stamp(p.at), p.consignee]
        : [
            link('lot', p.lot),
            [link('certificate', p.certificate), ` ${p.type}`],
            fmt.stamp(p.at),
            [
              standing(p.state),
              p.replaced_by ? [' ', link('certificate', p.replaced_by)] : null,
              p.withdrawn ? ` ${p.withdrawn}` : null,
              el('ul', { class: 'bare' }, openMarks(p).map(mark)),
            ],
          ],
    { cls: 'genealogy-wide' },
  );

const jointTable = (lot, joints) => [
  el('h3', null, link('lot', lot)),
  joints.length === 0
    ? none()
    : longTable(
        [t('type.weld'), t('genealogy.made-in'), t('genealogy.way'), t('genealogy.place'), t('genealogy.possible')],
        joints,
        (j) => [
          link('weld', j.weld),
          link('run', j.made_in),
          j.path.join(' › '),
          j.at_mm === null ? t('not-known') : fmt.lengthExact(j.at_mm),
          fmt.spans([j.possible]),
        ],
        { cls: 'genealogy-joints' },
      ),
];

/* --- of the entries --------------------------------------------------------------------------------- */

const aboutEntry = (x) => [entryLink(x.entry), ' ', term('entry', x.kind), ' ', x.about || ''];

const correctionTable = (list) =>
  longTable(
    [t('type.entry'), t('genealogy.it-was'), t('genealogy.by-entry'), t('genealogy.reason')],
    list,
    (c) => [
      aboutEntry(c),
      t(c.void ? 'gap.put-right.void' : 'gap.put-right.corrected'),
      [entryLink(c.by_entry), ' ', t('by-at', { by: c.by, at: fmt.stamp(c.logged) })],
      c.reason,
    ],
    { cls: 'genealogy-wide' },
  );

const findingList = (list) =>
  el(
    'ul',
    null,
    list.map((x) => x.findings.map((f) => el('li', null, aboutEntry(x), ': ', findingText(f)))),
  );

const noteList = (list) =>
  el(
    'ul',
    null,
    list.map((n) => el('li', null, n.text, ' ', el('span', { class: 'quiet' }, `${n.about}, ${t('by-at', { by: n.by, at: fmt.stamp(n.at) })}`), ' ', entryLink(n.entry))),
  );

/* --- the page --------------------------------------------------------------------------------------- */

const head = ({ trace, entries, logged }) => [
  facts(
    [
      [t('genealogy.size'), fmt.count(trace.ledger.size)],
      [t('genealogy.concern'), fmt.count(entries)],
      [t('genealogy.logged'), fmt.stamp(logged)],
      [t('root'), el('span', { class: 'hash' }, trace.ledger.root)],
    ],
    'facts rows',
  ),
  el('p', { class: 'quiet' }, t('genealogy.head.what')),
];

/** The lots that it starts with and that were made here, each with what is drawn along it. */
async function startsOf(trace) {
  const made = new Set(trace.lots.filter((x) => x.run).map((x) => x.lot));
  const starts = trace.starts.map((s) => s.lot).filter((code) => made.has(code));
  const shown = [];
  for (const code of starts.slice(0, RIBBONS)) {
    const [lot, makeup, joints] = await Promise.all([api.lot(code), api.makeup(code, { by: 'heat' }), api.joints(code)]);
    shown.push({ lot, makeup, joints });
  }
  return { shown, more: starts.length - shown.length };
}

const some = (list, draw) => (list.length === 0 ? none() : draw(list));

function partsOf(g, starts) {
  const joints = starts.shown.reduce((n, s) => n + s.joints.joints.length, 0);
  return [
    ['stages', t('genealogy.stages'), stages(g)],
    ['material', t('genealogy.heats', { n: g.material.length }), some(g.material, materialTable)],
    ['runs', t('genealogy.runs', { n: g.runs.length }), some(g.runs, runTable)],
    ['batches', t('genealogy.batches'), some(g.batches, batchTable)],
    ['tests', t('genealogy.tests', { n: g.tests.length }), some(g.tests, testTable)],
    ['holds', t('genealogy.holds'), some(g.holds, holdTable)],
    ['papers', t('genealogy.papers'), some(g.papers, paperTable)],
    starts.shown.length > 0 && [
      'joints',
      t('genealogy.joints', { n: joints }),
      [
        starts.shown.map((s) => jointTable(s.lot.lot, s.joints.joints)),
        starts.more > 0 ? el('p', { class: 'quiet' }, t('genealogy.joints.more', { n: starts.more })) : null,
      ],
    ],
    ['corrections', t('genealogy.corrections'), some(g.corrections, correctionTable)],
    ['findings', t('genealogy.findings'), some(g.findings, findingList)],
    ['notes', t('genealogy.notes'), some(g.notes, noteList)],
    ['head', t('genealogy.head'), head(g)],
  ]
    .filter(Boolean)
    .map(([id, title, body]) => ({ id: `g-${id}`, title, body }));
}

const contents = (parts) =>
  el(
    'nav',
    { class: 'sheet contents', 'aria-labelledby': 'contents-title' },
    el('h2', { id: 'contents-title' }, t('genealogy.contents')),
    el(
      'ol',
      null,
      parts.map((p) => el('li', null, el('a', { href: `#${p.id}` }, p.title))),
    ),
  );

const actions = (question, { type, code }) =>
  el(
    'div',
    { class: 'actions' },
    el('button', { type: 'button', class: 'main', click: () => print() }, t('print')),
    ['report', 'pack'].map((as) =>
      el('a', { class: 'button', href: api.url('/api/export', { ...question, as, size: api.past }), download: '' }, t(`genealogy.${as}`)),
    ),
    el('a', { class: 'button', href: api.pageOf(type, code) }, t('genealogy.page', { type: t(`type.${type}`) })),
  );

async function draw(question) {
  const asked = originOf(question);
  const g = await api.genealogy(question);
  const starts = await startsOf(g.trace);
  const parts = partsOf(g, starts);
  const ribbons = starts.shown.map((s, i) => ribbonSheet(s.lot, s.makeup, s.joints, starts.shown.length > 1 ? `-${i + 1}` : null));
  document.title = t('title', { page: t('genealogy.title', { lot: `${t(`type.${asked.type}`)} ${asked.code}` }) });
  put(
    byId('answer'),
    el(
      'div',
      { class: 'title' },
      el('h1', null, t('genealogy.title', { lot: t(`type.${asked.type}`) }), ' ', el('span', { class: 'code' }, asked.code)),
    ),
    el('p', null, t(`genealogy.asked.${g.trace.direction}`)),
    actions(question, asked),
    contents(parts),
    ribbons.map((r) => r.node),
    starts.more > 0 ? el('p', { class: 'quiet' }, t('genealogy.ribbons.more', { n: starts.more })) : null,
    parts.map((p) => sheet(p.id, p.title, p.body)),
  );
  for (const ribbon of ribbons) ribbon.draw();
  // after the long tables' own, so that the rows which these add are opened too
  addEventListener('beforeprint', () => {
    for (const fold of byId('answer').querySelectorAll('.genealogy-runs details')) fold.open = true;
  });
}

function ask() {
  const form = el('form', { novalidate: true });
  put(byId('answer'), el('h1', null, t('genealogy.ask')), el('p', null, t('genealogy.ask.what')), el('section', { class: 'sheet' }, form));
  questionForm(form, null, (made) => location.assign(api.url('genealogy.html', made)));
  form.querySelector('input[name="type"][value="lot"]').click();
  form.querySelector('input[name="direction"][value="back"]').click();
}

await learnArea('audit');
await learnArea('quality');
await learnArea('measured');
frame('audit');
patterns();
const given = fromAddress();
if (!given) {
  ask();
} else {
  const { type, code } = originOf(given);
  const question = { ...given, origin: `${type.toLowerCase()}:${code.toUpperCase()}` };
  if (!question.direction && BACK.includes(type.toLowerCase())) question.direction = 'back';
  lookBack();
  put(byId('answer'), el('p', { class: 'quiet' }, t('genealogy.asking')));
  try {
    await draw(question);
  } catch (problem) {
    trouble(byId('answer'), problem);
    byId('answer').append(el('p', null, el('a', { href: 'audit.html' }, t('audit.title'))));
    if (!(problem instanceof api.Problem)) throw problem;
  }
}
