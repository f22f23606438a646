// A box for a code that suggests what the ledger knows, for keyboard, touch and screen reader (a combobox with a
// listbox).

import { el, paused, put } from './dom.js';
import * as api from './api.js';
import { fewWords } from './parts.js';
import { t, term } from './words.js';

let made = 0;

/**
 * Make `input` suggest. `types()` gives the types of thing that fit (null: any); `chosen(found)` is called when one is
 * picked. The list is drawn after the input, inside the element that holds it.
 */
export function suggest(input, { types = () => null, chosen = () => {} } = {}) {
  const id = `suggest-${(made += 1)}`;
  const list = el('ul', { id, role: 'listbox', class: 'suggest', 'aria-label': t('suggestions'), hidden: true });
  const holder = el('div', { class: 'combo' });
  input.replaceWith(holder);
  holder.append(input, list);
  for (const [name, value] of [
    ['role', 'combobox'],
    ['aria-autocomplete', 'list'],
    ['aria-expanded', 'false'],
    ['aria-controls', id],
    ['autocomplete', 'off'],
    ['autocapitalize', 'characters'],
    ['spellcheck', 'false'],
  ]) {
    input.setAttribute(name, value);
  }
  let found = [];
  let at = -1;
  let asked = null;

  function close() {
    list.hidden = true;
    at = -1;
    input.setAttribute('aria-expanded', 'false');
    input.removeAttribute('aria-activedescendant');
  }

  function mark(next) {
    at = next;
    [...list.children].forEach((node, i) => node.setAttribute('aria-selected', String(i === at)));
    if (at < 0) return input.removeAttribute('aria-activedescendant');
    list.children[at].scrollIntoView({ block: 'nearest' });
    return input.setAttribute('aria-activedescendant', `${id}-${at}`);
  }

  function pick(i) {
    input.value = found[i].code;
    const it = found[i];
    close();
    chosen(it);
  }

  function show(all) {
    const fit = types();
    found = all.filter((f) => !fit || fit.includes(f.type)).slice(0, 8);
    if (found.length === 0 || document.activeElement !== input) return close();
    put(
      list,
      found.map((f, i) =>
        el(
          'li',
          {
            id: `${id}-${i}`,
            role: 'option',
            'aria-selected': 'false',
            mousedown: (event) => {
              event.preventDefault();
              pick(i);
            },
          },
          el('span', { class: 'code' }, f.code),
          ' ',
          el('span', { class: 'tag' }, term('type', f.type)),
          ' ',
          el('span', { class: 'soft' }, fewWords(f)),
        ),
      ),
    );
    list.hidden = false;
    input.setAttribute('aria-expanded', 'true');
    return mark(-1);
  }

  const ask = paused(120, async () => {
    const q = input.value.trim();
    asked?.abort();
    if (q === '') return close();
    asked = new AbortController();
    try {
      return show((await api.find(q, asked.signal)).found);
    } catch {
      return close();
    }
  });

  input.addEventListener('input', ask);
  input.addEventListener('blur', () => {
    asked?.abort();
    close();
  });
  input.addEventListener('keydown', (event) => {
    if (list.hidden) return;
    if (event.key === 'ArrowDown') mark((at + 1) % found.length);
    else if (event.key === 'ArrowUp') mark((at <= 0 ? found.length : at) - 1);
    else if (event.key === 'Enter' && at >= 0) pick(at);
    else if (event.key === 'Escape') close();
    else return;
    event.preventDefault();
  });
  return { close };
}
