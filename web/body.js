// The body of an entry as a person reads it: the names of the trade, figures in the units shown, codes as links.

import { el, table } from './dom.js';
import * as fmt from './format.js';
import { KINDS } from './forms.js';
import { link } from './parts.js';
import { t, term } from './words.js';

/** Members that name another thing, and its type. */
const NAMES = {
  heat: 'heat',
  supply: 'supply',
  lot: 'lot',
  batch: 'batch',
  run: 'run',
  weld: 'weld',
  test: 'test',
  hold: 'hold',
  certificate: 'certificate',
  consignment: 'consignment',
  machine: 'machine',
  instrument: 'instrument',
  reels: 'lot',
  lots: 'lot',
  tests: 'test',
  supplies: 'supply',
  replaces: 'certificate',
  holds: 'hold',
};

const plain = (it) => it === null || typeof it !== 'object';
const flat = (it) => !plain(it) && !Array.isArray(it) && Object.values(it).every(plain);

/** Members whose value is one of the trade's own terms. */
const TERMS = {
  process: 'process',
  kind: 'kind',
  off: 'off',
  join: 'join',
  verdict: 'verdict',
  disposition: 'disposition',
};

/** Members in the order in which one fills them in. */
const ORDER = Object.values(KINDS).flatMap(function names(kind) {
  return kind.fields.flatMap((f) => [f.name, ...(f.fields ? names(f) : [])]);
});
const place = (name) => (ORDER.includes(name) ? ORDER.indexOf(name) : ORDER.length);
const inOrder = (names) => [...names].sort((a, b) => place(a) - place(b));

function scalar(name, it) {
  if (it === null) return t('none');
  if (typeof it === 'number') return fmt.figure(name, it);
  if (NAMES[name]) return link(NAMES[name], it);
  if (TERMS[name]) return term(TERMS[name], it);
  if (['started', 'ended', 'doffed'].includes(name)) return el('span', { class: 'nowrap' }, fmt.stamp(it));
  return String(it);
}

/** Things of one shape, a row each. */
function rows(name, list) {
  const columns = inOrder(new Set(list.flatMap(Object.keys)));
  return table(
    [t('column.number'), ...columns.map((c) => term('field', c))],
    list.map((it, i) => [String(i + 1), ...columns.map((c) => (c in it ? scalar(c, it[c]) : ''))]),
  );
}

function value(name, it) {
  if (plain(it)) return scalar(name, it);
  // A certificate's document has a page of its own, which draws it as it is printed.
  if (name === 'document' && it.certificate) return link('certificate', it.certificate, t('document.see'));
  if (!Array.isArray(it)) {
    return el(
      'dl',
      { class: 'facts rows' },
      inOrder(Object.keys(it)).map((n) =>
        el(
          'div',
          { class: plain(it[n]) || flat(it[n]) ? null : 'deep' },
          el('dt', null, term('field', n)),
          el('dd', null, value(n, it[n])),
        ),
      ),
    );
  }
  if (it.every(plain)) return it.map((x) => [scalar(name, x), ' ']);
  if (it.every(flat)) return rows(name, it);
  return it.map((x) => el('div', { class: 'part' }, value(name, x)));
}

/** The body of an entry of a kind, for reading. */
export function bodyOf(kind, body) {
  return el('div', { class: 'body-of' }, el('h3', null, term('entry', kind)), value('', body));
}
