// What everyone at a page has to know of how it is served.

import { byId, el, put } from './dom.js';
import { language, learn, t } from './words.js';

learn((await (language === 'es' ? import('./words/es-serving.js') : import('./words/en-serving.js'))).default);

/** Say it in the page's banner; `who` is what the server says of the caller (/api/me). */
export function banner(who) {
  const key = who.reading ? 'reading' : who.open ? 'open-mode' : who.in_the_clear ? 'in-the-clear' : null;
  if (!key) return;
  const place = byId('banner');
  place.hidden = false;
  put(place, el('strong', null, t(key)), ' ', t(`${key}.what`));
}
