// Parts that several pages are made of: a link to a thing, a titled sheet, the notes on something.

import { el } from './dom.js';
import * as fmt from './format.js';
import { pageOf, url } from './api.js';
import { findingText } from './said.js';
import { t, term } from './words.js';

/** A link to the page of a thing; nothing for no code. */
export const link = (type, code, text = code) =>
  code ? el('a', { class: 'code', href: pageOf(type, code) }, text) : null;

/** What a thing is, in few words: a lot, a run and a batch in the reader's language and units, others as the server says it. */
export function fewWords({ text, kind, length_mm, process, machine }) {
  if (kind) return `${term('kind', kind)}, ${fmt.length(length_mm)}`;
  return process ? [term('process', process), machine].filter(Boolean).join(', ') : text;
}

/** A sheet of a page with its heading. */
export const sheet = (id, title, ...kids) =>
  el('section', { class: 'sheet', 'aria-labelledby': id }, el('h2', { id }, title), kids);

/** The notes on something and what was found odd about it; `about` is what a new note would be about. */
export function notes(thing, about) {
  const list = [
    ...(thing.notes || []).map((n) =>
      el('li', null, n.text, el('div', { class: 'quiet' }, t('by-at', { by: n.by, at: fmt.stamp(n.at) }))),
    ),
    ...(thing.findings || []).map((f) =>
      el(
        'li',
        null,
        el('strong', null, t('finding')),
        ' ',
        findingText(f),
        ' ',
        link('entry', f.seq, t('entry-n', { seq: f.seq })),
      ),
    ),
  ];
  return sheet(
    'notes-title',
    t('lot.notes'),
    list.length === 0 ? el('p', null, t('notes.none')) : el('ul', { class: 'links' }, list),
    el('p', null, el('a', { href: url('log.html', { kind: 'note', about }) }, t('notes.add'))),
  );
}
