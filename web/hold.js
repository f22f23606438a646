// All of an answer on hold in one step: one hold entry with every affected length that is still there.

import { el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { findingText, problemText } from './said.js';
import { t } from './words.js';

/** Where two lists of intervals, sorted and apart, overlap. */
export function meet(one, other) {
  const out = [];
  for (let i = 0, k = 0; i < one.length && k < other.length;) {
    const from = Math.max(one[i][0], other[k][0]);
    const to = Math.min(one[i][1], other[k][1]);
    if (from < to) out.push([from, to]);
    if (one[i][1] < other[k][1]) i += 1;
    else k += 1;
  }
  return out;
}

/** What a hold on an answer bars: of each lot, the part that may be affected and is left. */
export function toHold(rows) {
  return rows.flatMap((row) =>
    meet(row.possible, row.left || []).map(([from, to]) =>
      from === 0 && to === row.length_mm ? { lot: row.lot } : { lot: row.lot, from_mm: from, to_mm: to },
    ),
  );
}

function proposedCode(origin) {
  const today = new Date().toISOString().slice(2, 10).replaceAll('-', '');
  const tail = api.newKey().slice(-4).toUpperCase();
  return `HO-${today}-${origin.code}`.slice(0, 35).concat('-', tail);
}

/** The question of an answer and the head at which it was answered, as a hold keeps them. */
export function asked(question, ledger) {
  const whole = (name) => (question[name] ? { [name]: Number(question[name]) } : {});
  const time = (name) =>
    question[name] ? { [name]: new Date(question[name]).toISOString().replace(/\.\d+Z$/, 'Z') } : {};
  const { from_mm: from, to_mm: to } = { ...whole('from_mm'), ...whole('to_mm') };
  return {
    origin: question.origin,
    direction: question.direction || 'forward',
    ...(to === undefined ? {} : { from_mm: from || 0, to_mm: to }),
    ...time('since'),
    ...time('until'),
    size: ledger.size,
    root: ledger.root,
  };
}

/**
 * Open the dialog for an answer's rows; `held(receipt)` is called once it is recorded. `trace`: the question and its
 * head, kept with the hold; nothing where there is none to keep.
 */
export function holdDialog(origin, sentence, rows, trace, held) {
  const lots = toHold(rows);
  const affected = new Set(lots.map((l) => l.lot)).size;
  const total = rows.reduce((sum, row) => sum + fmt.spansLength(meet(row.possible, row.left || [])), 0);
  const key = api.newKey();
  const code = el('input', { id: 'hold-code', class: 'code-in', value: proposedCode(origin), maxlength: 40 });
  const reason = el('textarea', { id: 'hold-reason', maxlength: 2000 });
  reason.value = t('hold.reason.proposed', { question: sentence });
  const decides = el('input', { id: 'hold-decides', maxlength: 200 });
  const said = el('div', { id: 'hold-said', role: 'alert' });
  const send = el('button', { class: 'stop', type: 'submit' }, t('hold.go', { n: affected }));
  const close = el('button', { type: 'button', click: () => dialog.close() }, t('cancel'));

  async function put1(event) {
    event.preventDefault();
    if (send.disabled) return;
    send.disabled = true;
    put(said);
    try {
      const receipt = await api.append({
        key,
        kind: 'hold',
        body: {
          hold: code.value.trim().toUpperCase(),
          reason: reason.value.trim(),
          lots,
          ...(trace ? { question: sentence.slice(0, 2000), trace } : {}),
          ...(decides.value.trim() ? { decides: decides.value.trim() } : {}),
        },
      });
      put(
        said,
        el(
          'div',
          { class: 'done' },
          el('strong', null, t('hold.done', { n: affected, hold: receipt.body.hold })),
          ' ',
          el('a', { href: api.url('board.html', { hold: receipt.body.hold }) }, t('hold.see')),
          el('p', { class: 'hash' }, t('receipt.head', { seq: receipt.seq, head: receipt.head })),
          (receipt.findings || []).map((f) => el('p', null, findingText(f))),
        ),
      );
      send.hidden = true;
      close.textContent = t('close');
      close.focus();
      held(receipt);
    } catch (problem) {
      const at =
        /^\/body\/hold\b/.test(problem.pointer || '') || problem.slug === 'code-taken'
          ? code
          : /^\/body\/reason\b/.test(problem.pointer || '')
            ? reason
            : null;
      for (const box of [code, reason]) box.setAttribute('aria-invalid', String(box === at));
      put(
        said,
        el(
          'div',
          { class: 'trouble' },
          el('strong', null, t('refused')),
          ' ',
          problemText(problem),
        ),
      );
      send.disabled = false;
      at?.focus();
    }
  }

  const dialog = el(
    'dialog',
    { 'aria-labelledby': 'hold-title', close: () => dialog.remove() },
    el(
      'form',
      { submit: put1, novalidate: true },
      el('h2', { id: 'hold-title' }, t('hold.title')),
      el('p', null, t('hold.what', { n: affected, length: fmt.length(total) })),
      el('p', { class: 'caution' }, t('caution.hold')),
      el('div', { class: 'field' }, el('label', { for: 'hold-code' }, t('field.hold')), code),
      el('div', { class: 'field' }, el('label', { for: 'hold-reason' }, t('field.reason')), reason),
      el('div', { class: 'field' }, el('label', { for: 'hold-decides' }, t('hold.decides')), decides),
      said,
      el('div', { class: 'actions' }, send, close),
    ),
  );
  document.body.append(dialog);
  dialog.showModal();
  reason.focus();
}
