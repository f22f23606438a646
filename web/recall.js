// Recall: state the suspicion, see what it touched, contain it.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { flow, inOrder } from './flow.js';
import { frame, trouble } from './frame.js';
import { holdDialog, toHold } from './hold.js';
import { fromAddress, inWords, originOf, questionForm } from './question.js';
import { patterns, rowRibbon } from './ribbon.js';
import { Rows } from './rows.js';
import { t, term } from './words.js';

/** Lots of the first page of an answer: enough to draw the screen at once; the others follow behind it. */
const FIRST = 150;

const link = (type, code) => el('a', { class: 'code', href: api.pageOf(type, code) }, code);

/* --- what the answer says ------------------------------------------------------------------------- */

/** How to say how many lots of a stage are certain. */
function sureness(stage) {
  const share = stage.certain === 0 ? 'none' : stage.certain === stage.lots ? 'all' : 'some';
  return `recall.last.${share}${stage.lots === 1 ? '.one' : ''}`;
}

function headline(question, answer) {
  const stages = inOrder(answer.totals);
  const last = question.direction === 'back' ? stages[0] : stages[stages.length - 1];
  const { type, code } = originOf(question);
  const what = t('question.about', { type: t(`type.${type}`), code });
  const out = answer.containment.consignments.reduce((sum, c) => sum + c.reels.length, 0);
  if (!last) return el('p', { class: 'headline' }, t('recall.nothing', { what }));
  return [
    el(
      'p',
      { class: 'headline' },
      t(`recall.touched.${question.direction || 'forward'}`, { what, n: answer.count }),
      ' ',
      el(
        'span',
        { class: 'big' },
        t(sureness(last), {
          lots: t(`kinds.${last.kind}`, { n: last.lots }),
          certain: last.certain,
          length: fmt.length(last.affected_mm),
          mass: fmt.mass(last.affected_g),
        }),
      ),
    ),
    el(
      'p',
      null,
      t('recall.still', { n: answer.containment.lots.length }),
      ' ',
      out === 0
        ? t('recall.none-out')
        : t('recall.out', {
            lots: t('lots', { n: out }),
            n: new Set(answer.containment.consignments.map((c) => c.consignee)).size,
          }),
    ),
  ];
}

const headLine = (answer) =>
  el(
    'p',
    { class: 'head-line' },
    el('span', null, t('at-head', { size: answer.ledger.size })),
    el(
      'span',
      null,
      t('root'),
      ' ',
      el('span', { class: 'code', title: answer.ledger.root }, fmt.shortHash(answer.ledger.root)),
    ),
  );

function heatsReached(answer) {
  if (!answer.heats) return null;
  return el(
    'section',
    { class: 'sheet', 'aria-labelledby': 'heats-title' },
    el('h2', { id: 'heats-title' }, t('recall.heats', { n: answer.heats.length })),
    el(
      'p',
      null,
      answer.heats.map((heat) => [link('heat', heat), ' \u00a0 ']),
    ),
  );
}

function places(rows) {
  const by = new Map();
  for (const row of rows) {
    const place = row.location || t('no-place');
    const sum = by.get(place) || { lots: 0, mm: 0, held: 0 };
    sum.lots += 1;
    sum.mm += row.affected_left_mm ?? row.left_mm;
    if (row.state === 'on-hold') sum.held += 1;
    by.set(place, sum);
  }
  return [...by].sort((a, b) => b[1].mm - a[1].mm);
}

function stillHere(answer, rows, complete, hold) {
  const n = answer.containment.lots.length;
  const known = places(rows.filter((r) => r.left_mm > 0));
  const some = complete && toHold(rows).length > 0;
  const parts =
    n === 0
      ? el('p', null, t('contain.none'))
      : [
          el(
            'div',
            { class: 'actions' },
            el(
              'button',
              { type: 'button', class: 'stop', id: 'hold-all', disabled: !some, click: hold },
              t('contain.hold-all'),
            ),
            complete && !some ? el('span', { class: 'quiet' }, t('contain.none-affected')) : null,
          ),
          el(
            'table',
            null,
            el(
              'thead',
              null,
              el(
                'tr',
                null,
                el('th', { scope: 'col' }, t('contain.place')),
                el('th', { scope: 'col', class: 'num' }, t('contain.lots')),
                el('th', { scope: 'col', class: 'num' }, t('contain.length')),
                el('th', { scope: 'col', class: 'num' }, t('contain.held')),
              ),
            ),
            el(
              'tbody',
              null,
              known
                .slice(0, 12)
                .map(([place, sum]) =>
                  el(
                    'tr',
                    null,
                    el('th', { scope: 'row' }, place),
                    el('td', { class: 'num' }, fmt.count(sum.lots)),
                    el('td', { class: 'num' }, fmt.length(sum.mm)),
                    el('td', { class: 'num' }, fmt.count(sum.held)),
                  ),
                ),
            ),
          ),
          known.length > 12 ? el('p', { class: 'quiet' }, t('and-more', { n: known.length - 12 })) : null,
          complete ? null : el('p', { class: 'quiet' }, t('loading')),
        ];
  return [el('h2', { id: 'here-title' }, t('contain.here', { n })), parts];
}

/** Who has what: consignments by consignee. */
function goneOut(answer, rows) {
  const by = new Map();
  for (const c of answer.containment.consignments) by.set(c.consignee, [...(by.get(c.consignee) || []), c]);
  const lots = (list) => list.reduce((sum, c) => sum + c.reels.length, 0);
  const sent = (c) =>
    el(
      'li',
      null,
      link('consignment', c.consignment),
      ' ',
      el('span', { class: 'soft' }, t('contain.sent', { at: fmt.day(c.at) })),
      el(
        'div',
        { class: 'codes' },
        c.reels.map((reel) => link('lot', reel)),
      ),
    );
  return [
    el('h2', { id: 'out-title' }, t('contain.out', { n: lots(answer.containment.consignments) })),
    by.size === 0
      ? el('p', null, t('contain.out.none'))
      : [...by]
          .sort((a, b) => lots(b[1]) - lots(a[1]))
          .map(([consignee, list], i) =>
            el(
              'details',
              { open: i === 0 && lots(list) < 40 },
              el('summary', null, consignee, el('span', { class: 'count' }, t('lots', { n: lots(list) }))),
              el('ul', { class: 'links' }, list.map(sent)),
            ),
          ),
    papers(rows),
  ];
}

/** The certificates in force that speak of affected lots. */
function papers(rows) {
  const named = [...new Set(rows.flatMap((row) => row.certificates || []))].sort();
  if (named.length === 0) return null;
  return [
    el('h3', null, t('contain.certificates', { n: named.length })),
    el(
      'div',
      { class: 'codes' },
      named.map((code) => link('certificate', code)),
    ),
  ];
}

/* --- the table ------------------------------------------------------------------------------------ */

const cell = (name, ...kids) => el('td', { class: `c-${name}`, role: 'cell' }, kids);

function lotRow(row, index) {
  const where = row.state === 'dispatched' ? row.consignee : row.location;
  return el(
    'tr',
    { class: 'lot-row', role: 'row', 'aria-rowindex': index + 2 },
    el(
      'th',
      { class: 'c-lot', scope: 'row', role: 'rowheader' },
      link('lot', row.lot),
      el('br'),
      el('small', null, term('kind', row.kind), ' \u00b7 '),
      el('span', { class: `verdict ${row.verdict}` }, t(`verdict.${row.verdict}`)),
    ),
    cell('where', rowRibbon(row)),
    cell('affected', fmt.length(row.affected_mm), el('br'), el('small', null, fmt.mass(row.affected_g))),
    cell(
      'left',
      el(
        'small',
        null,
        row.left_mm > 0
          ? t('row.left', { length: fmt.length(row.affected_left_mm ?? row.left_mm) })
          : t('row.none-left'),
      ),
    ),
    cell(
      'state',
      el('span', { class: `state ${row.state}` }, t(`state.${row.state}`)),
      ' ',
      (row.holds || []).slice(0, 2).map((h) => [link('hold', h), ' ']),
      where ? [el('br'), el('small', null, where)] : null,
    ),
  );
}

const HEADS = ['lot', 'where', 'affected', 'left', 'state'];

function lotTable(answer) {
  const narrowed = { kind: null, verdict: '', state: '', text: '' };
  const body = el('tbody', { role: 'rowgroup' });
  const grid = el(
    'table',
    { class: 'lots', role: 'table', 'aria-labelledby': 'lots-title', 'aria-rowcount': answer.count + 1 },
    el(
      'thead',
      { role: 'rowgroup' },
      el(
        'tr',
        { role: 'row' },
        HEADS.map((h) => el('th', { class: `c-${h}`, scope: 'col', role: 'columnheader' }, t(`column.${h}`))),
      ),
    ),
    body,
  );
  const rows = new Rows(body, HEADS.length, lotRow);
  const shown = el('span', { class: 'quiet grow', role: 'status' });
  let all = answer.lots;

  function narrow() {
    const text = narrowed.text.toUpperCase();
    const fit = all.filter(
      (r) =>
        (!narrowed.kind || r.kind === narrowed.kind) &&
        (!narrowed.verdict || r.verdict === narrowed.verdict) &&
        (!narrowed.state || (narrowed.state === 'left' ? r.left_mm > 0 : r.state === narrowed.state)) &&
        (!text ||
          `${r.lot} ${r.location || ''} ${r.consignee || ''} ${(r.holds || []).join(' ')}`
            .toUpperCase()
            .includes(text)),
    );
    rows.set(fit);
    grid.setAttribute('aria-rowcount', String(fit.length + 1));
    shown.textContent =
      all.length < answer.count
        ? t('table.loading', { have: all.length, all: answer.count })
        : t('table.shown', { n: fit.length, all: answer.count });
  }

  const pick = (id, name, values) =>
    el(
      'div',
      { class: 'field' },
      el('label', { for: id }, t(`filter.${name}`)),
      el(
        'select',
        {
          id,
          change: (event) => {
            narrowed[name] = event.target.value;
            narrow();
          },
        },
        values.map(([value, text]) => el('option', { value }, text)),
      ),
    );
  const filters = el(
    'div',
    { class: 'filters' },
    pick('f-verdict', 'verdict', [
      ['', t('filter.any')],
      ['certain', t('verdict.certain')],
      ['possible', t('verdict.possible')],
    ]),
    pick('f-state', 'state', [
      ['', t('filter.any')],
      ['left', t('filter.left')],
      ...['in-stock', 'on-hold', 'consumed', 'dispatched', 'scrapped'].map((s) => [s, t(`state.${s}`)]),
    ]),
    el(
      'div',
      { class: 'field' },
      el('label', { for: 'f-text' }, t('filter.text')),
      el('input', {
        id: 'f-text',
        type: 'search',
        input: (event) => {
          narrowed.text = event.target.value.trim();
          narrow();
        },
      }),
    ),
    shown,
  );
  return {
    node: el(
      'section',
      { class: 'sheet', 'aria-labelledby': 'lots-title' },
      el('h2', { id: 'lots-title' }, t('recall.lots')),
      filters,
      grid,
    ),
    stage(kind) {
      narrowed.kind = kind;
      narrow();
    },
    take(list) {
      all = list;
      narrow();
    },
  };
}

/* --- asking --------------------------------------------------------------------------------------- */

async function saveCsv(question, said) {
  try {
    const text = await api.traceCsv(question);
    const place = URL.createObjectURL(new Blob([text], { type: 'text/csv' }));
    const { type, code } = originOf(question);
    el('a', { href: place, download: `recall-${type}-${code.replaceAll('/', '_')}.csv` }).click();
    setTimeout(() => URL.revokeObjectURL(place), 10000);
  } catch (problem) {
    trouble(said, problem);
  }
}

function draw(question, answer) {
  let rows = answer.lots;
  let complete = rows.length >= answer.count;
  const here = el('section', { class: 'sheet', 'aria-labelledby': 'here-title' });
  const out = el('section', { class: 'sheet', 'aria-labelledby': 'out-title' });
  const said = el('div', { 'aria-live': 'polite' });
  const lots = lotTable(answer);
  const hold = () =>
    holdDialog(originOf(question), inWords(question), rows, () => {
      // What is on hold now is the server's to say; the answer is asked for again once the dialog is gone.
      document.querySelector('dialog').addEventListener('close', () => ask(question));
    });
  const contain = () => {
    put(here, stillHere(answer, rows, complete, hold));
    put(out, goneOut(answer, rows));
  };
  contain();
  put(
    byId('answer'),
    el(
      'section',
      { class: 'sheet', 'aria-labelledby': 'headline' },
      el('h2', { id: 'headline', class: 'visually-hidden', tabindex: '-1' }, t('recall.answer')),
      headline(question, answer),
      headLine(answer),
      el(
        'div',
        { class: 'actions' },
        el('button', { type: 'button', click: () => print() }, t('print')),
        el('button', { type: 'button', id: 'csv', click: () => saveCsv(question, said) }, t('save-csv')),
      ),
      said,
      answer.totals.length > 0 ? flow(answer.totals, (kind) => lots.stage(kind)) : null,
    ),
    heatsReached(answer),
    el('div', { class: 'two' }, here, out),
    el('div', { class: 'spaced' }, lots.node),
  );
  lots.take(rows);
  return (whole) => {
    rows = whole.lots;
    complete = true;
    contain();
    lots.take(rows);
  };
}

let asking = 0;

async function ask(question) {
  const mine = (asking += 1);
  const began = performance.now();
  put(byId('question-title'), inWords(question), el('span', { class: 'change' }, t('question.change')));
  byId('answer').setAttribute('aria-busy', 'true');
  delete byId('answer').dataset.complete;
  try {
    const answer = await api.trace(question, { limit: FIRST });
    if (mine !== asking) return;
    answer.count ??= answer.lots.length;
    const rest = draw(question, answer);
    byId('question').open = false;
    byId('headline').focus({ preventScroll: true });
    requestAnimationFrame(() =>
      setTimeout(() => {
        byId('answer').dataset.drawnMs = String(Math.round(performance.now() - began));
      }),
    );
    if (answer.lots.length < answer.count) {
      const whole = await api.trace(question);
      if (mine === asking) rest(whole);
    }
    byId('answer').dataset.complete = 'true';
  } catch (problem) {
    if (mine !== asking) return;
    trouble(byId('answer'), problem);
    byId('question').open = true;
  } finally {
    byId('answer').removeAttribute('aria-busy');
  }
}

function main() {
  frame('recall');
  patterns();
  const question = fromAddress();
  put(byId('question-title'), t('question.title'));
  questionForm(byId('ask'), question, (asked) => {
    history.pushState(null, '', api.url('recall.html', asked));
    ask(asked);
  });
  addEventListener('popstate', () => location.reload());
  addEventListener('beforeprint', () => {
    for (const fold of byId('answer').querySelectorAll('details')) fold.open = true;
  });
  if (question) ask(question);
}

main();
