// Labels of lots: a link to the sheet that the server draws, in the size of this terminal's printer.

import { el, put } from '../dom.js';
import { remember, remembered } from './where.js';
import { system, t } from './say.js';

const SIZES = ['100x60', '100x150', '62'];

function address(codes, size, as) {
  return `/api/labels?${new URLSearchParams({ lots: codes.join(','), size, as, units: system() })}`;
}

/** Ways to the labels of some lots. */
export function labelLink(codes) {
  const place = el('p', { class: 'labels' });
  function draw() {
    const size = remembered('label') || SIZES[0];
    put(
      place,
      el(
        'a',
        { class: 'button', href: address(codes, size, 'pdf'), target: '_blank', rel: 'noopener' },
        t('labels', { n: codes.length }),
      ),
      el(
        'span',
        { class: 'pick', role: 'group', 'aria-label': t('labels.size') },
        SIZES.map((s) =>
          el(
            'button',
            {
              type: 'button',
              'aria-pressed': String(s === size),
              click: () => {
                remember('label', s);
                draw();
              },
            },
            t(`labels.${s}`),
          ),
        ),
      ),
    );
  }
  draw();
  return place;
}
