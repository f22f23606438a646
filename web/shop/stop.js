// STOP: what must not be used. The whole page says so, by its shape, its word and its colour, until someone has seen
// it.

import { byId, el, put, svg } from '../dom.js';
import { t } from './say.js';

const octagon = () =>
  svg(
    'svg',
    { viewBox: '0 0 100 100', class: 'octagon', 'aria-hidden': 'true' },
    svg('polygon', { points: '30,2 70,2 98,30 98,70 70,98 30,98 2,70 2,30', class: 'octagon-edge' }),
    svg('polygon', { points: '31.5,6 68.5,6 94,31.5 94,68.5 68.5,94 31.5,94 6,68.5 6,31.5', class: 'octagon-face' }),
    svg('rect', { x: 22, y: 44, width: 56, height: 12, class: 'octagon-bar' }),
  );

/** Show it: of what, why in the trade's words, and what the ledger says of it. Resolves when it has been seen. */
export function stop({ code, why, detail = [], link = null }) {
  return new Promise((resolve) => {
    const place = byId('stop');
    const before = document.activeElement;
    function seen() {
      document.body.classList.remove('stopped');
      place.hidden = true;
      put(place);
      document.removeEventListener('keydown', keys, true);
      for (const node of document.querySelectorAll('#bar, #main')) node.inert = false;
      (before?.isConnected ? before : byId('scan')).focus();
      resolve();
    }
    let last = 0; /* when a letter or digit came: a scanner's Enter right behind one is no one's having seen it */
    function keys(event) {
      if (event.key.length === 1 && event.key !== ' ') last = event.timeStamp;
      else if (event.key === 'Enter' && event.timeStamp - last < 300) event.preventDefault();
      else if (event.key === 'Escape') {
        event.stopPropagation();
        seen();
      }
    }
    const button = el('button', { type: 'button', class: 'seen', click: seen }, t('stop.seen'));
    put(
      place,
      el(
        'div',
        { class: 'stop-sheet', role: 'alertdialog', 'aria-labelledby': 'stop-word', 'aria-describedby': 'stop-why' },
        octagon(),
        el('h2', { id: 'stop-word' }, t('stop.word')),
        el(
          'div',
          { id: 'stop-why' },
          code ? el('p', { class: 'stop-code code' }, code) : null,
          el('p', { class: 'stop-why' }, why),
          [detail]
            .flat()
            .filter(Boolean)
            .map((d) => el('p', null, d)),
        ),
        link ? el('p', null, el('a', { href: link.href }, link.text)) : null,
        button,
      ),
    );
    place.hidden = false;
    for (const node of document.querySelectorAll('#bar, #main')) node.inert = true;
    document.body.classList.add('stopped');
    document.addEventListener('keydown', keys, true);
    button.focus();
  });
}
