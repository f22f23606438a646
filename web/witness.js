// Witness: the head of the ledger for safe keeping elsewhere, and whether the ledger of today only grew from a head that
// was kept. The browser checks the proof itself; what the server says of it is not believed.

import { el, facts, put } from './dom.js';
import * as api from './api.js';
import * as fmt from './format.js';
import { able, grew, unhex } from './merkle.js';
import { problemText } from './said.js';
import { t } from './words.js';

/** The note of a head, as `kinwire witness` writes it unsigned. */
const note = (head, at) => `kinwire head\nsize ${head.size}\nroot ${head.root}\ntime ${at}\n`;

function save(text, name) {
  const place = URL.createObjectURL(new Blob([text], { type: 'text/plain' }));
  el('a', { href: place, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(place), 10000);
}

/** Size and root out of a note, or out of a page or report on which both stand; null when they are not in it. */
export function readNote(text) {
  const size = /^size (\d{1,15})\s*$/m.exec(text);
  const root = /^root ([0-9a-f]{64})\s*$/m.exec(text);
  return size && root ? { size: Number(size[1]), root: root[1] } : null;
}

/* Return: what to say, and whether it is good. */
async function compare(kept) {
  const now = await api.head();
  if (now.size < kept.size) return ['witness.shorter', false, { now: now.size, then: kept.size }];
  const proof = await api.consistency(kept.size, now.size);
  const good =
    proof.root === now.root &&
    (await grew(kept.size, unhex(kept.root), now.size, unhex(now.root), proof.proof.map(unhex)));
  return [good ? 'witness.grew' : 'witness.broken', good, { now: now.size, then: kept.size }];
}

/** Draw the section into `place`. */
export async function witness(place) {
  const head = el('div', null);
  const said = el('div', { 'aria-live': 'polite', id: 'witness-said' });
  const text = el('textarea', { id: 'kept', class: 'hash', spellcheck: 'false', 'aria-describedby': 'kept-hint' });
  const file = el('input', { id: 'kept-file', type: 'file', accept: '.txt,text/plain' });
  put(
    place,
    head,
    el('h3', null, t('witness.check')),
    el(
      'div',
      { class: 'field' },
      el('label', { for: 'kept' }, t('witness.kept')),
      el('span', { class: 'hint', id: 'kept-hint' }, t('witness.kept.hint')),
      text,
    ),
    el('div', { class: 'field' }, el('label', { for: 'kept-file' }, t('witness.file')), file),
    el(
      'div',
      { class: 'actions' },
      el('button', { type: 'button', class: 'main', id: 'kept-go', click: () => check() }, t('witness.go')),
    ),
    said,
  );
  file.addEventListener('change', async () => {
    if (file.files[0]) text.value = (await file.files[0].text()).slice(0, 4096);
  });

  async function check() {
    const kept = readNote(text.value);
    if (!able()) return put(said, el('div', { class: 'warn' }, t('witness.unable')));
    if (!kept) {
      put(said, el('div', { class: 'warn' }, t('witness.no-note')));
      return text.focus();
    }
    try {
      const [key, good, values] = await compare(kept);
      return put(said, el('div', { class: good ? 'done' : 'trouble', role: 'status' }, t(key, values)));
    } catch (problem) {
      return put(said, el('div', { class: 'trouble' }, problemText(problem)));
    }
  }

  try {
    const now = await api.head();
    const at = `${new Date().toISOString().slice(0, 19)}Z`;
    put(
      head,
      facts(
        [
          [t('witness.size'), fmt.count(now.size)],
          [t('root'), el('span', { class: 'hash' }, now.root)],
        ],
        'facts rows',
      ),
      el(
        'div',
        { class: 'actions' },
        el(
          'button',
          { type: 'button', class: 'main', id: 'note-save', click: () => save(note(now, at), `head-${now.size}.txt`) },
          t('witness.save'),
        ),
        el('button', { type: 'button', click: () => print() }, t('print')),
      ),
    );
  } catch (problem) {
    put(head, el('div', { class: 'trouble' }, problemText(problem)));
  }
}
