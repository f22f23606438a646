// The hold board: what is barred, since when, how much of it, and who decides.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { link } from './parts.js';
import { learnArea, t } from './words.js';

const held = (hold) =>
  el(
    'li',
    { class: 'sheet' },
    el('h2', null, link('hold', hold.hold)),
    el('p', null, hold.reason),
    el(
      'p',
      { class: 'quiet' },
      t('board.since', { at: fmt.stamp(hold.at) }),
      ' · ',
      t('lots', { n: hold.lots }),
      ' · ',
      t('board.left', { length: fmt.length(hold.left_mm) }),
    ),
  );

await learnArea('quality');
frame('board');
try {
  const { holds } = await api.attention();
  put(
    byId('board'),
    holds.length === 0 ? el('p', null, t('board.none')) : el('ul', { class: 'board' }, holds.map(held)),
  );
} catch (problem) {
  trouble(byId('board'), problem);
}
