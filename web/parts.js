// Parts that several pages are made of: a link to a thing, a titled sheet.

import { el } from './dom.js';
import { pageOf } from './api.js';

/** A link to the page of a thing; nothing for no code. */
export const link = (type, code, text = code) =>
  code ? el('a', { class: 'code', href: pageOf(type, code) }, text) : null;

/** A sheet of a page with its heading. */
export const sheet = (id, title, ...kids) =>
  el('section', { class: 'sheet', 'aria-labelledby': id }, el('h2', { id }, title), kids);
