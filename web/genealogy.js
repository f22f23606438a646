// Genealogy: what a lot is made of, to be read and printed: contents, the ribbon, the lots by stage, the runs, the tests,
// holds, joints and findings of the lot, the head. The report that the program makes as a PDF says the same and more.

import { byId, el, facts, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { ribbonSheet } from './along.js';
import { inOrder } from './flow.js';
import { frame, trouble } from './frame.js';
import { link, sheet } from './parts.js';
import { lookBack } from './past.js';
import { patterns } from './ribbon.js';
import { learnArea, t, term } from './words.js';

const AT_ONCE = 4; /* runs asked for side by side */

/** The things of a list asked for a few at a time, in order. */
async function each(list, ask) {
  const got = new Array(list.length);
  let next = 0;
  const worker = async () => {
    while (next < list.length) {
      const i = next;
      next += 1;
      got[i] = await ask(list[i]).catch(() => null);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
  return got;
}

function contents(parts) {
  return el(
    'nav',
    { class: 'sheet contents', 'aria-labelledby': 'contents-title' },
    el('h2', { id: 'contents-title' }, t('genealogy.contents')),
    el(
      'ol',
      null,
      parts.map((p) => el('li', null, el('a', { href: `#${p.id}` }, p.title))),
    ),
  );
}

/* --- the lots by stage ---------------------------------------------------------------------------- */

function stages(answer) {
  const rows = (kind) => answer.lots.filter((x) => x.kind === kind);
  return inOrder(answer.totals)
    .reverse()
    .map((total) => [
      el('h3', null, t(`kinds.${total.kind}`, { n: total.lots })),
      table(
        [t('column.lot'), t('genealogy.run'), t('genealogy.certain'), t('genealogy.possible'), t('column.state')],
        rows(total.kind).map((x) => [
          link('lot', x.lot),
          x.run ? link('run', x.run) : t('genealogy.received'),
          fmt.spans(x.certain),
          fmt.spans(x.possible),
          t(`state.${x.state}`),
        ]),
        { cls: 'genealogy-lots', caption: t('genealogy.stage', { kind: term('kind', total.kind) }) },
      ),
    ]);
}

/* --- the runs ------------------------------------------------------------------------------------- */

const settingsOf = (body) =>
  Object.entries(body.settings || {})
    .map(([name, value]) => `${name} ${value}`)
    .join(', ');

function runTable(runs) {
  return table(
    [t('genealogy.run'), t('genealogy.machine'), t('genealogy.times'), t('genealogy.settings'), t('genealogy.who')],
    runs.map(({ code, entry }) => {
      const body = entry?.body || {};
      return [
        link('run', code),
        [term('process', body.process || ''), ' ', body.machine || ''],
        [body.started ? fmt.stamp(body.started) : t('not-known'), el('br'), body.ended ? fmt.stamp(body.ended) : t('not-known')],
        settingsOf(body),
        entry ? t('by-at', { by: entry.by, at: t('entry-n', { seq: entry.seq }) }) : '',
      ];
    }),
    { cls: 'genealogy-runs', caption: t('genealogy.runs.what') },
  );
}

/* --- of the lot itself ---------------------------------------------------------------------------- */

const testTable = (lot) =>
  lot.tests.length === 0
    ? el('p', null, t('genealogy.none'))
    : table(
        [t('type.test'), t('genealogy.place'), t('genealogy.results'), t('genealogy.verdict')],
        lot.tests.map((x) => [
          link('test', x.test),
          x.at_mm === null ? t('not-known') : fmt.length(x.at_mm),
          Object.entries(x.results || {})
            .map(([name, value]) => `${term('field', name)} ${fmt.figure(name, value)}`)
            .join('; '),
          x.verdict ? t(`verdict.${x.verdict}`) : t('verdict.open'),
        ]),
      );

const holdTable = (lot) =>
  lot.holds.length === 0
    ? el('p', null, t('genealogy.none'))
    : table(
        [t('type.hold'), t('genealogy.reason'), t('genealogy.open')],
        lot.holds.map((h) => [link('hold', h.hold), h.reason, fmt.spans(h.open_spans || [])]),
      );

const jointTable = (joints) =>
  joints.joints.length === 0
    ? el('p', null, t('genealogy.none'))
    : table(
        [t('type.weld'), t('genealogy.way'), t('genealogy.place'), t('genealogy.possible')],
        joints.joints.map((j) => [
          link('weld', j.weld),
          j.path.join(' › '),
          j.at_mm === null ? t('not-known') : fmt.length(j.at_mm),
          fmt.spans([j.possible]),
        ]),
        { cls: 'genealogy-joints' },
      );

function findingList(lot) {
  const list = [...(lot.findings || []), ...(lot.notes || [])];
  return list.length === 0
    ? el('p', null, t('genealogy.none'))
    : el(
        'ul',
        null,
        list.map((f) => el('li', null, f.text, ' ', link('entry', f.seq, t('entry-n', { seq: f.seq })))),
      );
}

/* --- the page ------------------------------------------------------------------------------------- */

function head(answer) {
  return [
    facts(
      [
        [t('genealogy.size'), fmt.count(answer.ledger.size)],
        [t('root'), el('span', { class: 'hash' }, answer.ledger.root)],
      ],
      'facts rows',
    ),
    el('p', { class: 'quiet' }, t('genealogy.head.what')),
  ];
}

async function draw(code) {
  const [lot, makeup, joints, answer] = await Promise.all([
    api.lot(code),
    api.makeup(code, { by: 'heat' }),
    api.joints(code),
    api.trace({ origin: `lot:${code}`, direction: 'back' }),
  ]);
  const codes = [...new Set(answer.lots.map((x) => x.run).filter(Boolean))];
  const things = await each(codes, (run) => api.thing('run', run));
  const runs = codes.map((run, i) => ({ code: run, entry: things[i]?.entry }));
  const ribbon = ribbonSheet(lot, makeup, joints);
  const parts = [
    { id: 'g-heats', title: t('genealogy.heats', { n: answer.heats.length }), body: el('p', { class: 'codes' }, answer.heats.map((h) => link('heat', h))) },
    { id: 'g-stages', title: t('genealogy.stages'), body: stages(answer) },
    { id: 'g-runs', title: t('genealogy.runs', { n: runs.length }), body: runTable(runs) },
    { id: 'g-tests', title: t('genealogy.tests'), body: testTable(lot) },
    { id: 'g-holds', title: t('genealogy.holds'), body: holdTable(lot) },
    { id: 'g-joints', title: t('genealogy.joints', { n: joints.joints.length }), body: jointTable(joints) },
    { id: 'g-findings', title: t('genealogy.findings'), body: findingList(lot) },
    { id: 'g-head', title: t('genealogy.head'), body: head(answer) },
  ];
  document.title = t('title', { page: t('genealogy.title', { lot: lot.lot }) });
  put(
    byId('answer'),
    el('div', { class: 'title' }, el('h1', null, t('genealogy.title', { lot: '' }), ' ', el('span', { class: 'code' }, lot.lot))),
    el(
      'div',
      { class: 'actions' },
      el('button', { type: 'button', class: 'main', click: () => print() }, t('print')),
      el(
        'a',
        { class: 'button', href: api.url('/api/export', { origin: `lot:${code}`, as: 'report', size: api.past }), download: '' },
        t('genealogy.report'),
      ),
      el('a', { class: 'button', href: api.pageOf('lot', code) }, t('genealogy.lot')),
    ),
    contents(parts),
    ribbon.node,
    parts.map((p) => sheet(p.id, p.title, p.body)),
  );
  ribbon.draw();
}

await learnArea('audit');
await learnArea('quality');
frame('audit');
lookBack();
patterns();
const origin = new URLSearchParams(location.search).get('origin') || '';
const code = origin.replace(/^lot:/i, '').toUpperCase();
put(byId('answer'), el('p', { class: 'quiet' }, t('genealogy.asking')));
try {
  await draw(code);
} catch (problem) {
  trouble(byId('answer'), problem);
  byId('answer').append(el('p', null, el('a', { href: 'audit.html' }, t('audit.title'))));
  if (!(problem instanceof api.Problem)) throw problem;
}
