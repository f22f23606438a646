// As it was: a page that looks at the ledger of an earlier size says so where it can't be overlooked, offers nothing that
// would record anything, and leads back to now.

import { byId, el, put } from './dom.js';
import * as api from './api.js';
import * as fmt from './format.js';
import { problemText } from './said.js';
import { learnArea, t } from './words.js';

/** This page's address with another size, or none. */
function withSize(size) {
  const query = new URLSearchParams(location.search);
  if (size === null) query.delete('size');
  else query.set('size', size);
  return `${location.pathname}?${query}`;
}

/** A typed entry number, or a day, which is looked up: the last entry of that day in UTC. */
async function sizeOf(text) {
  if (/^\d{1,12}$/.test(text)) return text;
  if (!/^\d{4}-\d{2}-\d{2}$/.test(text)) return null;
  return String((await api.sizeAt(`${text}T23:59:59Z`)).size);
}

function goBack() {
  const wrong = el('span', { class: 'wrong', role: 'alert', id: 'then-wrong' });
  const box = el('input', { id: 'then', 'aria-describedby': 'then-hint then-wrong', value: api.past || '' });
  return el(
    'form',
    {
      class: 'filters past-form',
      submit: async (event) => {
        event.preventDefault();
        try {
          const size = await sizeOf(box.value.trim());
          if (size === null) put(wrong, t('past.wrong'));
          else location.assign(withSize(size));
        } catch (problem) {
          put(wrong, problemText(problem));
        }
      },
    },
    el(
      'div',
      { class: 'field' },
      el('label', { for: 'then' }, t('past.when')),
      el('span', { class: 'hint', id: 'then-hint' }, t('past.when.hint')),
      box,
      wrong,
    ),
    el('button', { type: 'submit' }, t('past.go')),
  );
}

/** Say in the page that it looks back; or offer to. */
export async function lookBack() {
  await learnArea('past');
  const main = byId('main');
  if (!api.past) {
    main.append(
      el('details', { class: 'past-fold no-print' }, el('summary', null, t('past.title')), el('p', null, t('past.what')), goBack()),
    );
    return;
  }
  document.body.classList.add('as-was');
  const said = el('span', { id: 'past-said' });
  const making = el('span', { id: 'past-making', role: 'status' });
  main.before(
    el(
      'aside',
      { id: 'past', 'aria-label': t('past.label') },
      el('strong', null, t('past.banner', { size: Number(api.past) })),
      ' ',
      said,
      ' ',
      making,
      ' ',
      el('a', { href: withSize(null) }, t('past.now')),
    ),
  );
  api.made.addEventListener('made', (event) =>
    put(making, event.detail && t('past.making', { done: event.detail.done, of: event.detail.size })),
  );
  try {
    const entry = await api.entry(api.past);
    put(said, t('past.until', { at: fmt.stamp((entry.entry || entry).logged) }));
  } catch {
    // The banner stands without the time.
  }
  main.append(el('details', { class: 'past-fold no-print' }, el('summary', null, t('past.other')), goBack()));
}
