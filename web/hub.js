// A hub: a page of tiles, each the way to a page of its area, with what waits there.

import { el, put } from './dom.js';
import * as fmt from './format.js';
import { t } from './words.js';

/**
 * Draw tiles into `place`. A tile is {name, href, count}: its words are `tile.NAME` and `tile.NAME.what`; `count`, where
 * there is one, answers {n, urgent} once it is known, and is said as `tile.NAME.count` (a plural).
 */
export function hub(place, tiles) {
  put(
    place,
    el(
      'ul',
      { class: 'tiles' },
      tiles.map(({ name, href, count }) => {
        const said = el('span', { class: 'tile-count', 'data-tile': name });
        if (count) say(said, name, count);
        return el(
          'li',
          null,
          el(
            'a',
            { class: 'tile', href },
            el('strong', null, t(`tile.${name}`)),
            el('span', { class: 'soft' }, t(`tile.${name}.what`)),
            said,
          ),
        );
      }),
    ),
  );
}

async function say(place, name, count) {
  try {
    const { n, more, urgent } = await count();
    put(place, el('b', { class: urgent ? 'urgent' : null }, `${fmt.count(n)}${more ? '+' : ''}`), ' ', t(`tile.${name}.count`, { n }));
  } catch {
    // A tile whose count can't be had leads to its page all the same, which says why.
  }
}
