// Who may do what: the one table by which the server decides, drawn as it is there.

import { byId, el, put } from './dom.js';
import * as api from './api.js';
import './door.js';
import { frame, trouble } from './frame.js';
import { known, t, term } from './words.js';

/** A cell says it in a word and a mark: may, may with the password given again, may not. */
function cell(row, role) {
  const may = row.anyone || row.roles.includes(role);
  if (!may) return el('td', { class: 'not' }, el('span', { 'aria-hidden': 'true' }, '\u2013'), el('span', { class: 'visually-hidden' }, t('rights.not')));
  return el(
    'td',
    { class: row.fresh ? 'may fresh' : 'may' },
    el('span', { 'aria-hidden': 'true' }, '\u2713'),
    row.fresh ? el('small', null, t('rights.fresh')) : el('span', { class: 'visually-hidden' }, t('rights.may')),
  );
}

function matrix(caption, roles, rows, name) {
  return el(
    'div',
    { class: 'scroll', tabindex: '0', role: 'group', 'aria-label': caption },
    el(
      'table',
      { class: 'rights' },
      el('caption', null, caption),
      el('thead', null, el('tr', null, el('td', null), roles.map((r) => el('th', { scope: 'col' }, term('role', r))))),
      el(
        'tbody',
        null,
        rows.map((row) => el('tr', null, el('th', { scope: 'row' }, name(row)), roles.map((r) => cell(row, r)))),
      ),
    ),
  );
}

async function main() {
  frame('rights');
  const place = byId('rights');
  try {
    const { roles, rights, kinds, routes } = await api.get('/api/rights');
    const right = (row) => (known(`right.${row.right}`) ? t(`right.${row.right}`) : row.right);
    put(
      place,
      el('p', null, el('span', { 'aria-hidden': 'true' }, '\u2713 '), t('rights.may'), ' \u00b7 ', el('span', { 'aria-hidden': 'true' }, '\u2713 '), t('rights.fresh'), ': ', t('rights.fresh.what'), ' \u00b7 ', el('span', { 'aria-hidden': 'true' }, '\u2013 '), t('rights.not')),
      matrix(t('rights.kinds'), roles, kinds, (row) => term('entry', row.kind)),
      matrix(t('rights.rights'), roles, rights, right),
      el(
        'details',
        null,
        el('summary', null, t('rights.routes', { n: routes.length })),
        matrix(t('rights.routes', { n: routes.length }), roles, routes, (row) => [
          el('span', { class: 'code' }, `${row.method} ${row.path}`),
          ' ',
          el('small', { class: 'soft' }, row.anyone ? t('rights.anyone') : right(row)),
        ]),
      ),
    );
  } catch (problem) {
    trouble(place, problem);
  }
}

main();
