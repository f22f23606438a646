// A table that begins short: the first rows, and a button that shows the rest. Whoever prints or searches gets all of it.

import { el, table } from './dom.js';
import * as fmt from './format.js';
import { t } from './words.js';

const FIRST = 50; // each row may draw a ribbon; of the recall of a large heat a dozen tables are this long

/** `cells(item)` gives a row as dom.js's table() takes it; `options` are table()'s. */
export function longTable(heads, items, cells, options = {}) {
  const node = table(heads, items.slice(0, FIRST).map(cells), options);
  if (items.length <= FIRST) return node;
  const rest = el('button', { type: 'button', class: 'rest', click: () => show() }, t('table.all', { n: fmt.count(items.length) }));
  const whole = el('div', null, node, rest);

  function show() {
    removeEventListener('beforeprint', show);
    whole.replaceChildren(table(heads, items.map(cells), options));
  }
  addEventListener('beforeprint', show);
  return whole;
}
