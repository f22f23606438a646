// The body of an entry as a person reads it: the names of the trade, figures in the units shown, codes as links.

import { el } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { t, term } from './words.js';

/** Members that name another thing, and its type. */
const NAMES = {
  heat: 'heat', supply: 'supply', lot: 'lot', batch: 'batch', run: 'run', weld: 'weld', test: 'test', hold: 'hold', certificate: 'certificate',
  consignment: 'consignment', machine: 'machine', instrument: 'instrument', reels: 'lot', lots: 'lot', tests: 'test', supplies: 'supply',
};

const link = (type, code) => el('a', { class: 'code', href: api.pageOf(type, code) }, code);

function value(name, it) {
  if (Array.isArray(it)) {
    if (it.every((x) => typeof x !== 'object' || x === null)) return it.map((x) => [value(name, x), ' ']);
    return el('ol', null, it.map((x) => el('li', null, value(name, x))));
  }
  if (it !== null && typeof it === 'object') {
    return el('dl', { class: 'facts rows' }, Object.entries(it).map(([n, v]) => el('div', null, el('dt', null, term('field', n)), el('dd', null, value(n, v)))));
  }
  if (typeof it === 'number') return fmt.figure(name, it);
  if (typeof it === 'string' && NAMES[name]) return link(NAMES[name], it);
  if (typeof it === 'string' && ['started', 'ended', 'doffed'].includes(name)) return fmt.stamp(it);
  if (it === null) return t('none');
  return String(it);
}

/** The body of an entry of a kind, for reading. */
export function bodyOf(kind, body) {
  return el('div', { class: 'body-of' }, el('h3', null, term('entry', kind)), value('', body));
}
