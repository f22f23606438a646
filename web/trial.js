// Trials of the record, by entries of one kind: the form that asks for one, the seed that it is drawn by, and those that
// were made before. A page gives what is its own: more fields, and how a result is drawn.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { trouble } from './frame.js';
import { link } from './parts.js';
import { problemText } from './said.js';
import { t } from './words.js';

const HISTORY = 50;

export const field = (id, label, box, hint = null) =>
  el(
    'div',
    { class: 'field' },
    el('label', { for: id }, label),
    hint && el('span', { class: 'hint', id: `${id}-hint` }, hint),
    box,
  );

/** What is stated first, and the words that are given afterwards. */
export function seedFields(head) {
  const size = el('input', { id: 'seed-size', inputmode: 'numeric', value: head.size, 'aria-describedby': 'seed-size-hint' });
  const text = el('input', { id: 'seed-text', maxlength: 200, 'aria-describedby': 'seed-text-hint', autocomplete: 'off' });
  return {
    node: el(
      'fieldset',
      { id: 'seed' },
      el('legend', null, t('trial.seed')),
      el('p', { class: 'quiet' }, t('trial.seed.what')),
      el('p', null, t('trial.state', { seq: head.size }), ' ', el('span', { class: 'hash' }, head.root)),
      el(
        'div',
        { class: 'fields' },
        field('seed-size', t('trial.size'), size, t('trial.size.hint')),
        field('seed-text', t('trial.text'), text, t('trial.text.hint')),
      ),
    ),
    read: () => ({ size: Number(size.value.trim()), text: text.value.trim() }),
  };
}

/** How something was drawn, for whoever wants to draw it again. `drawn`: {draw, entry, what: node}. */
export function howDrawn(body, drawn) {
  if (!body.seed) return el('p', null, t('trial.named'));
  const { seed, chosen } = body;
  return el(
    'details',
    null,
    el('summary', null, t('trial.how')),
    el('p', null, t('trial.how.what', { size: seed.size, n: chosen.of })),
    el(
      'ul',
      null,
      drawn.map((d) => el('li', null, t('trial.draw', { seq: d.draw }), ' ', link('entry', d.entry, t('entry-n', { seq: d.entry })), ', ', d.what)),
    ),
    el(
      'pre',
      null,
      drawn
        .map((d) => `printf '%s\\n%s\\n%s' ${chosen.seed_root} '${seed.text.replaceAll("'", "'\\''")}' ${d.draw} | sha256sum`)
        .join('\n'),
    ),
  );
}

/** Where it stands in the ledger. */
export const stamped = (entry) =>
  el(
    'p',
    { class: 'head-line' },
    el('span', null, t('by-at', { by: entry.by, at: fmt.stamp(entry.at) })),
    el('span', null, link('entry', entry.seq, t('entry-n', { seq: entry.seq }))),
    el('span', null, t('at-head', { size: entry.body.found.size }), ' ', el('span', { class: 'hash' }, entry.body.found.root)),
  );

/** Seconds with as many decimals as say something. */
export const took = (us) => t('trial.seconds', { s: (us / 1e6).toLocaleString(document.documentElement.lang, { maximumSignificantDigits: 2 }) });

async function history(kind, line) {
  const { entries } = await api.entries({ kind, limit: HISTORY });
  put(
    byId('history'),
    entries.length === 0
      ? el('p', { class: 'quiet' }, t('trial.none'))
      : el(
          'ul',
          { class: 'links' },
          entries.map((e) =>
            el(
              'li',
              null,
              el('a', { href: api.url(location.pathname.slice(1), { seq: e.seq }) }, line(e.body)),
              el('div', { class: 'quiet' }, t('by-at', { by: e.by, at: fmt.stamp(e.at) })),
            ),
          ),
        ),
  );
}

/**
 * The page of a kind of trial. `fields(head)` answers {node, read() -> body without the note}; `report(entry)` a node;
 * `line(body)` a line of the history.
 */
export async function trial({ kind, fields, report, line }) {
  const note = el('textarea', { id: 'trial-note', maxlength: 2000 });
  const said = el('div', { role: 'alert' });
  const go = el('button', { type: 'submit', class: 'main' }, t(`${kind}.go`));
  let key = api.newKey();

  async function show(seq) {
    const { entries } = await api.entries({ kind, before: seq + 1, limit: 1 });
    const entry = entries.find((e) => e.seq === seq);
    if (!entry) return;
    put(
      byId('report'),
      el(
        'section',
        { class: 'sheet', 'aria-labelledby': 'report-title' },
        report(entry),
        stamped(entry),
        entry.body.note ? el('p', null, entry.body.note) : null,
        el(
          'div',
          { class: 'actions' },
          el('button', { type: 'button', click: () => print() }, t('print')),
          el('a', { class: 'button', href: `api/trials/${entry.seq}.pdf` }, t('trial.pdf')),
        ),
      ),
    );
    byId('report-title').focus({ preventScroll: false });
  }

  addEventListener('beforeprint', () => {
    for (const fold of byId('report').querySelectorAll('details')) fold.open = true;
  });
  try {
    const own = fields(await api.head());
    async function run(event) {
      event.preventDefault();
      if (go.disabled) return;
      put(said);
      go.disabled = true;
      const body = { ...own.read(), ...(note.value.trim() ? { note: note.value.trim() } : {}) };
      try {
        const receipt = await api.append({ key, kind, body });
        key = api.newKey();
        window.history.replaceState(null, '', api.url(location.pathname.slice(1), { seq: receipt.seq }));
        await show(receipt.seq);
        await history(kind, line);
      } catch (problem) {
        put(
          said,
          el(
            'div',
            { class: 'trouble' },
            el('strong', null, t('refused')),
            ' ',
            problem.status === 0 ? t('no-answer') : problemText(problem),
          ),
        );
      } finally {
        go.disabled = false;
      }
    }
    put(
      byId('ask'),
      own.node,
      field('trial-note', t('trial.note'), note, t('trial.note.hint')),
      said,
      el('div', { class: 'actions' }, go),
    );
    byId('ask').addEventListener('submit', run);
    const asked = Number(new URLSearchParams(location.search).get('seq'));
    if (asked > 0) await show(asked);
    await history(kind, line);
  } catch (problem) {
    trouble(byId('history'), problem);
  }
}
