// Who came in and who was refused: the entries of kind access, newest first.

import { byId, el, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import './door.js';
import { frame, trouble } from './frame.js';
import { link } from './parts.js';
import { t, term } from './words.js';

const LOOK = new Set(['refused', 'locked', 'denied']);
const rows = [];
let next = null;

function row(e) {
  const b = e.body;
  const bad = LOOK.has(b.what);
  return [
    fmt.stamp(e.at),
    el('span', { class: bad ? 'mark look' : null }, bad ? el('span', { 'aria-hidden': 'true' }, '\u25b2 ') : null, term('access', b.what)),
    b.person || b.token || '',
    b.terminal || '',
    [b.why || '', b.count > 1 ? ` (${t('access.times', { n: b.count })})` : ''],
    e.by === b.person ? '' : e.by,
    link('entry', e.seq, String(e.seq)),
  ];
}

async function more() {
  try {
    const got = await api.entries({ kind: 'access', limit: 100, before: next });
    rows.push(...got.entries.map(row));
    next = got.next;
    put(
      byId('list'),
      rows.length === 0
        ? el('p', { class: 'quiet' }, t('access.none'))
        : table(['at', 'what', 'who', 'terminal', 'why', 'by', 'entry'].map((h) => t(`access.column.${h}`)), rows, { caption: t('page.access') }),
      next ? el('p', null, el('button', { type: 'button', click: more }, t('access.more'))) : null,
    );
  } catch (problem) {
    trouble(byId('list'), problem);
  }
}

frame('access');
more();
