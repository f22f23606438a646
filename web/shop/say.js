// The terminal's own words, beside those of the other pages; and its figures in the terminal's units.

import { language, learn, locale, t, term } from '../words.js';
import { units } from '../format.js';
import * as measure from '../units.js';
import '../said.js';

learn((await (language === 'es' ? import('../words/es-shop.js') : import('../words/en-shop.js'))).default);

const marks = measure.marks(locale);

export { language, locale, t, term };

/** 'si' or 'us', as chosen for this terminal. */
export const system = units;

/** A stored figure as a person reads it. */
export const show = (stored, quantity, exact = false) =>
  stored === null || stored === undefined ? t('not-known') : measure.show(stored, quantity, units(), locale, exact);

/** A typed figure to the stored number, or null. `was`: what the box was filled with. */
export const read = (text, quantity, was = null) => measure.reread(text, was, quantity, units(), marks);

/** The text one would type for a stored figure. */
export const typed = (stored, quantity) => measure.typed(stored, quantity, units(), marks);

export const unit = (quantity) => measure.unitName(quantity, units());

/** A whole number as typed, or null. */
export const readWhole = (text) => (/^\d{1,9}$/.test(text.trim()) ? Number(text.trim()) : null);

export const clock = (at) => new Intl.DateTimeFormat(locale, { timeStyle: 'short' }).format(new Date(at));
