// The affected lots of an answer, lot by lot: a table that stays usable with ten thousand of them.

import { el } from './dom.js';
import * as fmt from './format.js';
import { link } from './parts.js';
import { rowRibbon } from './ribbon.js';
import { Rows } from './rows.js';
import { t, term } from './words.js';

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

/** The table of an answer: { node, stage(kind or null) narrows it to a stage, take(rows) gives it its rows }. */
export function lotTable(answer) {
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
