// Undo: the last step made at this terminal can be taken back for ten minutes, by an entry that makes it void.

import { byId, el, put } from '../dom.js';
import * as queue from '../queue.js';
import { t, term } from './say.js';
import { standing } from './project.js';

const WINDOW = 600000; /* ms */

const what = (row) => row.say?.text || t('did.other', { kind: term('entry', row.kind) });

/** The last step that can be undone: what was made here within ten minutes, by whoever works here now, and stands. */
async function last() {
  const since = Date.now() - WINDOW;
  const { waiting, done } = await queue.both(since);
  const mine = (r) => queue.who.open || (r.by || null) === queue.who.by;
  const rows = standing([
    ...done.filter((r) => !r.dropped && mine(r)),
    ...waiting.filter((r) => !r.problem && r.made >= since && mine(r)),
  ]);
  return rows.sort((a, b) => a.made - b.made).at(-1) || null;
}

async function undo(row) {
  await queue.add({
    kind: 'void',
    body: { entry: row.key, reason: t('undo.reason') },
    thread: row.thread,
    say: { text: t('undo.did', { what: what(row) }) },
  });
}

let timer = 0;

/** Draw it, and count down. */
export async function draw() {
  clearTimeout(timer);
  const row = await last();
  const place = byId('last');
  if (!row) {
    place.hidden = true;
    put(place);
    return;
  }
  const left = Math.max(0, row.made + WINDOW - Date.now());
  const minutes = `${Math.floor(left / 60000)}:${String(Math.floor(left / 1000) % 60).padStart(2, '0')}`;
  place.hidden = false;
  if (place.dataset.key === row.key && place.firstChild) {
    place.querySelector('.left').textContent = minutes;
    place.querySelector('.waits').textContent = row.seq ? '' : t('undo.waits');
  } else {
    place.dataset.key = row.key;
    put(
      place,
      el(
        'p',
        { class: 'did' },
        el('span', { class: 'tick', 'aria-hidden': 'true' }, '\u2713'),
        ' ',
        what(row),
        ' ',
        el('span', { class: 'soft waits' }, row.seq ? '' : t('undo.waits')),
      ),
      el(
        'button',
        {
          type: 'button',
          id: 'undo',
          click: (event) => {
            event.currentTarget.disabled = true;
            undo(row);
          },
        },
        t('undo'),
        ' ',
        el('span', { class: 'left', 'aria-hidden': 'true' }, minutes),
      ),
    );
  }
  timer = setTimeout(draw, 1000);
}
