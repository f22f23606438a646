// The words of the pages. One file a language under words/: keys to text. A language that lacks a key shows it in English.
//
// {name} in a text is replaced by the value given; a number is written as the locale
// does, but an entry's, which is a name ({seq}). A text that depends on a number
// has one key a plural form: "lots.one", "lots.other".

import english from './words/en.js';

/** Languages there is a file for; another language is another file and its name here. */
export const languages = ['en', 'es'];

function wanted() {
  const asked = [localStorage.getItem('kinwire.language'), ...(navigator.languages || [])];
  for (const tag of asked) {
    const short = String(tag || '').slice(0, 2).toLowerCase();
    if (languages.includes(short)) return short;
  }
  return 'en';
}

export const language = wanted();

/** How numbers and times are written: the browser's own variant of the language when it has one (en-GB, en-US). */
export const locale = (navigator.languages || []).find((tag) => tag.toLowerCase().startsWith(language)) || language;

const words = language === 'en' ? { ...english } : { ...english, ...(await import(`./words/${language}.js`)).default };
const plural = new Intl.PluralRules(locale);
const number = new Intl.NumberFormat(locale);

/** Add the words of a page that has a file of its own for them. */
export const learn = (more) => Object.assign(words, more);

/** Add the words of an area of pages: words/en-NAME.js and its like in the other languages. */
export const learnArea = async (name) => learn((await import(`./words/${language}-${name}.js`)).default);

/** The text for a key, with its values. `n` chooses the plural form. */
export function t(key, values = {}) {
  const form = 'n' in values ? words[`${key}.${plural.select(values.n)}`] || words[`${key}.other`] : null;
  const text = form || words[key];
  if (text === undefined) return key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => {
    if (!(name in values)) return whole;
    if (name === 'seq') return String(values.seq);
    return typeof values[name] === 'number' ? number.format(values[name]) : String(values[name]);
  });
}

/** Whether there are words for a key. */
export const known = (key) => key in words;

/** The word for one of the trade's own terms ("bobbin", "draw"), or the term itself. */
export const term = (group, name) => (known(`${group}.${name}`) ? t(`${group}.${name}`) : name);

/** Put words where the page says data-t (text), data-t-label (aria-label) or data-t-hint (placeholder). */
export function translate(root) {
  for (const node of root.querySelectorAll('[data-t]')) node.textContent = t(node.dataset.t);
  for (const node of root.querySelectorAll('[data-t-label]')) node.setAttribute('aria-label', t(node.dataset.tLabel));
  for (const node of root.querySelectorAll('[data-t-hint]')) node.setAttribute('placeholder', t(node.dataset.tHint));
}
