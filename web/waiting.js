// What is said while the server is still making what was asked for: it answers how far it is, and api.js asks again.

import { el, put } from './dom.js';
import * as api from './api.js';
import { locale, t } from './words.js';

const percent = new Intl.NumberFormat(locale, { style: 'percent', maximumFractionDigits: 0 });

/** A line in `place` while it lasts; `key`: its words, with {share}. Answers a function that ends it. */
export function waiting(place, key) {
  if (api.past) return () => {}; // the page's banner tells how far a ledger as it was is
  const line = el('p', { class: 'quiet', role: 'status' });
  const tell = (event) => {
    const far = event.detail;
    if (!far) return;
    put(line, t(key, { share: percent.format(far.size ? Math.floor((100 * far.done) / far.size) / 100 : 0) }));
    if (!line.isConnected) put(place, line);
  };
  api.made.addEventListener('made', tell);
  return () => api.made.removeEventListener('made', tell);
}
