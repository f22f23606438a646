// Certificates: all of them, newest first, each with how it stands.

import { mark, openMarks, standing } from './certified.js';
import { byId, el, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { link } from './parts.js';
import { t } from './words.js';

const PAGE = 50;
const marked = new URLSearchParams(location.search).get('state') === 'marked';

const reelsOf = (c) => [
  c.reels.slice(0, 4).map((reel) => [link('lot', reel), ' ']),
  c.reels.length > 4 ? el('span', { class: 'soft' }, t('and-more', { n: c.reels.length - 4 })) : null,
];

const row = (c) => [
  link('certificate', c.certificate),
  [
    standing(c.state),
    c.replaced_by ? [' ', link('certificate', c.replaced_by)] : null,
    openMarks(c).length > 0 && c.state === 'marked' ? el('ul', { class: 'marks' }, openMarks(c).map(mark)) : null,
    c.withdrawn ? el('div', { class: 'quiet' }, c.withdrawn.reason) : null,
  ],
  c.type,
  reelsOf(c),
  fmt.day(c.at),
  c.by,
];

function draw(place, rows, next) {
  put(
    place,
    rows.length === 0
      ? el('p', null, t(marked ? 'certificates.none-marked' : 'certificates.none-yet'))
      : table(
          [
            t('field.certificate'),
            t('column.standing'),
            t('field.type'),
            t('certificates.reels'),
            t('document.issued'),
            t('column.by'),
          ],
          rows.map(row),
          { caption: t('certificates.title') },
        ),
    next
      ? el(
          'div',
          { class: 'actions' },
          el('button', { type: 'button', id: 'more', click: () => more(place, rows, next) }, t('certificates.older')),
        )
      : null,
  );
}

async function more(place, rows, before) {
  const page = await api.certificates({ before, limit: PAGE, state: marked ? 'marked' : null });
  draw(place, [...rows, ...page.certificates], page.next);
}

frame('certificates');
const list = el('div', { id: 'list' });
put(
  byId('certificates'),
  el(
    'div',
    { class: 'actions' },
    el('a', { class: 'button main', href: 'issue.html' }, t('issue.title')),
    el(
      'a',
      { class: 'button', href: marked ? 'certificates.html' : 'certificates.html?state=marked' },
      t(marked ? 'certificates.all' : 'certificates.only-marked'),
    ),
  ),
  list,
);
try {
  await more(list, [], 0);
} catch (problem) {
  trouble(list, problem);
  if (!(problem instanceof api.Problem)) throw problem;
}
