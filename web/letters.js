// Letters: who has affected metal, as a list to save, and for each of them a letter to copy, alter and send by hand.

import { el, put } from './dom.js';
import * as fmt from './format.js';
import { t, term } from './words.js';

const metres = (rows, sure) => rows.reduce((sum, r) => sum + fmt.spansLength(sure ? r.certain : r.possible), 0);

const bySending = (a, b) =>
  a.dispatched.localeCompare(b.dispatched) || a.consignment.localeCompare(b.consignment) || a.lot.localeCompare(b.lot);

/** Rows of an answer by consignee: [[consignee, rows]], who has most that is surely affected first, as they are told first. */
export function byConsignee(rows) {
  const by = new Map();
  for (const row of rows) {
    if (row.consignee) by.set(row.consignee, [...(by.get(row.consignee) || []), row]);
  }
  for (const list of by.values()) list.sort(bySending);
  return [...by].sort(
    (a, b) => metres(b[1], true) - metres(a[1], true) || metres(b[1]) - metres(a[1]) || a[0].localeCompare(b[0]),
  );
}

/** Which of a lot may be affected: all of it, or from where to where. */
function part(row) {
  const length = fmt.length(row.length_mm);
  return fmt.spansLength(row.possible) === row.length_mm
    ? t('letters.whole', { length })
    : t('letters.part', { spans: fmt.spans(row.possible), length });
}

/* As the program's own CSV has it (RFC 4180): what a spreadsheet would take for a formula gets an apostrophe. */
function cell(value) {
  let text = String(value ?? '');
  if (/^[=+\-@\t\r]/.test(text) && typeof value !== 'number') text = `'${text}`;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The customers as CSV, a sent lot a row. */
export function customersCsv(rows) {
  const names = ['consignee', 'consignment', 'sent', 'lot', 'verdict', 'length', 'mass', 'certificates'];
  const lines = [
    names.map((name) => t(`board.csv.${name}`)),
    ...byConsignee(rows).flatMap(([consignee, list]) =>
      list.map((r) => [
        consignee,
        r.consignment,
        r.dispatched,
        r.lot,
        t(`letters.${r.verdict}`),
        r.affected_mm,
        r.affected_g,
        (r.certificates || []).join(' '),
      ]),
    ),
  ];
  return lines.map((line) => `${line.map(cell).join(',')}\r\n`).join('');
}

/** The letter to one consignee. */
export function letterText(consignee, rows, what, ledger) {
  const papers = [...new Set(rows.flatMap((r) => r.certificates || []))].sort();
  return t('letters.text', {
    consignee,
    what,
    seq: ledger.size,
    root: fmt.shortHash(ledger.root),
    lots: rows
      .map((r) =>
        t('letters.lot', {
          lot: r.lot,
          consignment: r.consignment,
          at: fmt.day(r.dispatched),
          kind: term('kind', r.kind),
          sure: t(`letters.${r.verdict}`),
          part: part(r),
        }),
      )
      .join('\n'),
    certificates: papers.length > 0 ? papers.join(', ') : t('letters.certificates.none'),
  });
}

function letter(consignee, rows, what, ledger, i) {
  const id = `letter-${i}`;
  const text = el('textarea', { id, class: 'letter', rows: 18, spellcheck: 'false' });
  text.value = letterText(consignee, rows, what, ledger);
  const said = el('span', { class: 'quiet', role: 'status' });
  async function copy() {
    text.select();
    try {
      await navigator.clipboard.writeText(text.value);
      put(said, t('letters.copied'));
    } catch {
      put(said, t('letters.select'));
    }
  }
  return el(
    'details',
    { class: 'letter-of' },
    el('summary', null, t('letters.of', { consignee }), el('span', { class: 'count' }, t('lots', { n: rows.length }))),
    el('label', { for: id, class: 'visually-hidden' }, t('letters.of', { consignee })),
    text,
    el('div', { class: 'actions' }, el('button', { type: 'button', click: copy }, t('letters.copy')), said),
  );
}

function save(rows) {
  const place = URL.createObjectURL(new Blob([customersCsv(rows)], { type: 'text/csv' }));
  el('a', { href: place, download: 'customers.csv' }).click();
  setTimeout(() => URL.revokeObjectURL(place), 10000);
}

/** What stands under those who have affected metal, once all rows are there. */
export function letters(what, answer, rows, complete) {
  const sent = byConsignee(rows);
  if (!complete || sent.length === 0) return null;
  return el(
    'section',
    { class: 'letters no-print', 'aria-labelledby': 'letters-title' },
    el('h3', { id: 'letters-title' }, t('letters.title')),
    el('p', { class: 'quiet' }, t('letters.what')),
    el('p', null, t('letters.first')),
    el(
      'div',
      { class: 'actions' },
      el('button', { type: 'button', id: 'customers', click: () => save(rows) }, t('letters.list')),
    ),
    sent.map(([consignee, list], i) => letter(consignee, list, what, answer.ledger, i)),
  );
}
