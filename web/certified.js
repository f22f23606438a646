// How a certificate stands, wherever one is shown: as it was issued, overtaken by something, withdrawn or replaced.

import { el } from './dom.js';
import * as fmt from './format.js';
import { pageOf } from './api.js';
import { learnArea, t } from './words.js';

await learnArea('quality');

/** How it stands, told by a word and a sign, not by colour alone. */
export const standing = (state) =>
  el(
    'span',
    { class: `verdict ${state === 'stands' ? 'pass' : 'fail'}`, 'data-state': state },
    t(`certificate.state.${state}`),
  );

/** What speaks against it still. */
export const openMarks = (certificate) => certificate.marks.filter((m) => m.cleared === null);

/** What came after it: what, why, who and when; and by which entry it was answered. */
export function mark(m) {
  const about = m.about.type === 'entry' ? t('entry-n', { seq: m.about.code }) : m.about.code;
  return el(
    'li',
    { class: m.cleared === null ? null : 'soft' },
    el('strong', null, t(`mark.${m.mark}`)),
    ' ',
    el('a', { class: 'code', href: pageOf(m.about.type, m.about.code) }, about),
    ' ',
    m.mark === 'failed' ? t(`field.${m.text}`) : m.text,
    el(
      'div',
      { class: 'quiet' },
      t('by-at', { by: m.by, at: fmt.stamp(m.at) }),
      ' ',
      el('a', { href: pageOf('entry', m.entry) }, t('entry-n', { seq: m.entry })),
      m.cleared === null
        ? null
        : [' · ', t('mark.cleared'), ' ', el('a', { href: pageOf('entry', m.cleared) }, t('entry-n', { seq: m.cleared }))],
    ),
  );
}

/** What stands beside a certificate's name in a list: nothing for one that stands. */
export const warning = (certificate) =>
  certificate.state === 'stands'
    ? null
    : [
        ' ',
        standing(certificate.state),
        certificate.replaced_by
          ? [' ', el('a', { class: 'code', href: pageOf('certificate', certificate.replaced_by) }, certificate.replaced_by)]
          : null,
      ];
