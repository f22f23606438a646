// Deciding what becomes of metal on hold, or agreeing to what somebody else is to decide: one dialog for both.

import { el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { findingText, problemText } from './said.js';
import { t, term } from './words.js';

const DISPOSITIONS = ['release', 'concession', 'rework', 'regrade', 'scrap'];
const PROCESSES = ['clean', 'draw', 'patent', 'galvanise', 'wind', 'strand', 'close', 'compact', 'coat', 'cut'];

const choice = (type, name, value, checked, ...kids) =>
  el('label', null, el('input', { type, name, value, checked }), el('span', null, kids));

function whatBecomes(given, changed) {
  return el(
    'fieldset',
    { change: changed },
    el('legend', null, t('decide.what')),
    el(
      'div',
      { class: 'choices wide' },
      DISPOSITIONS.map((d) =>
        choice('radio', 'disposition', d, d === given, term('disposition', d), el('small', null, t(`decide.${d}`))),
      ),
    ),
  );
}

function processes(given) {
  return el(
    'fieldset',
    { id: 'decide-into', hidden: true },
    el('legend', null, t('decide.into')),
    el('p', { class: 'hint quiet' }, t('decide.into.hint')),
    el(
      'div',
      { class: 'choices' },
      PROCESSES.map((p) => choice('checkbox', 'into', p, (given || []).includes(p), term('process', p))),
    ),
  );
}

/** All of the hold, or lots of it; of one lot alone a part, from a place to a place. */
function whichLots(hold, parts) {
  const open = hold.lots.filter((l) => l.open_spans.length > 0);
  const named = new Set((parts || []).map((p) => p.lot));
  const part = parts && named.size === 1 && parts.length === 1 ? parts[0] : null;
  const place = (id, key, mm) =>
    el(
      'div',
      { class: 'field' },
      el('label', { for: id }, t(key, { unit: fmt.unitOf('length') })),
      el('input', { id, inputmode: 'decimal', value: mm === undefined ? '' : fmt.typed(mm, 'length') }),
    );
  return el(
    'details',
    { open: named.size > 0, id: 'decide-lots' },
    el('summary', null, t('decide.lots')),
    el('p', { class: 'quiet' }, t('decide.lots.hint')),
    el(
      'div',
      { class: 'choices' },
      open.map((l) =>
        choice('checkbox', 'lot', l.lot, named.has(l.lot), el('span', { class: 'code' }, l.lot), el('small', null, fmt.spans(l.open_spans))),
      ),
    ),
    el(
      'div',
      { class: 'fields' },
      place('decide-from', 'decide.from', part?.from_mm),
      place('decide-to', 'decide.to', part?.to_mm),
    ),
  );
}

function readLots(form, wrong) {
  const lots = [...form.querySelectorAll('[name=lot]:checked')].map((box) => ({ lot: box.value }));
  const from = form.querySelector('#decide-from');
  const to = form.querySelector('#decide-to');
  if (from.value.trim() === '' && to.value.trim() === '') return lots.length > 0 ? lots : null;
  if (lots.length !== 1) wrong.push(t('decide.part-of-one'));
  const [a, b] = [from, to].map((box) => fmt.readQuantity(box.value, 'length'));
  for (const [box, mm] of [
    [from, a],
    [to, b],
  ]) {
    box.setAttribute('aria-invalid', String(!(mm >= 0)));
    if (!(mm >= 0)) wrong.push(t('decide.not-a-place', { text: box.value }));
  }
  return lots.map((l) => ({ ...l, from_mm: a, to_mm: b }));
}

/**
 * Open the dialog for a hold of the board. `as`: 'release' or 'agree'. `given`: an agreement whose terms it starts
 * from. `done()` is called once it was recorded and seen. `alone`: a second person has to agree, and nobody has.
 */
export function decideDialog(hold, as, given = null, done = () => {}, alone = false) {
  const key = api.newKey();
  const reason = el('textarea', { id: 'decide-reason', maxlength: 2000, 'aria-required': 'true' });
  const grade = el('input', { id: 'decide-grade', maxlength: 200, value: given?.grade || '' });
  const gradeField = el(
    'div',
    { class: 'field', hidden: true },
    el('label', { for: 'decide-grade' }, t('decide.grade')),
    grade,
  );
  const into = processes(given?.into);
  const said = el('div', { role: 'alert' });
  const send = el('button', { type: 'submit', class: 'main' }, t(`${as}.go`));
  const close = el('button', { type: 'button', click: () => dialog.close() }, t('cancel'));
  const what = () => form.querySelector('[name=disposition]:checked')?.value;
  function changed() {
    into.hidden = what() !== 'rework';
    gradeField.hidden = what() !== 'regrade';
    send.className = what() === 'scrap' ? 'stop' : 'main';
  }

  function refuse(texts, box = null) {
    put(said, el('div', { class: 'trouble' }, el('strong', null, t('refused')), ' ', texts.join(' ')));
    send.disabled = false;
    box?.focus();
  }

  function read() {
    const wrong = [];
    const body = { hold: hold.hold, disposition: what(), reason: reason.value.trim() };
    if (!body.disposition) wrong.push(t('decide.what-missing'));
    if (!body.reason) wrong.push(t('decide.reason-missing'));
    reason.setAttribute('aria-invalid', String(!body.reason));
    const lots = readLots(form, wrong);
    if (lots) body.lots = lots;
    const chosen = [...form.querySelectorAll('[name=into]:checked')].map((box) => box.value);
    if (body.disposition === 'rework' && chosen.length > 0) body.into = chosen;
    if (body.disposition === 'regrade' && grade.value.trim()) body.grade = grade.value.trim();
    return [body, wrong];
  }

  async function record(event) {
    event.preventDefault();
    if (send.disabled) return;
    put(said);
    const [body, wrong] = read();
    if (wrong.length > 0) {
      refuse(wrong, body.reason ? null : reason);
      return;
    }
    send.disabled = true;
    try {
      const receipt = await api.append({ key, kind: as, body });
      put(
        said,
        el(
          'div',
          { class: 'done' },
          el('strong', null, t(`${as}.done`, { hold: hold.hold })),
          ' ',
          el('a', { href: api.pageOf('entry', receipt.seq) }, t('entry-n', { seq: receipt.seq })),
          (receipt.findings || []).map((f) => el('p', null, findingText(f))),
        ),
      );
      send.hidden = true;
      close.textContent = t('close');
      close.focus();
      dialog.addEventListener('close', done);
    } catch (problem) {
      refuse([problem.status === 0 ? t('no-answer') : problemText(problem)]);
    }
  }

  const form = el(
    'form',
    { submit: record, novalidate: true },
    el('h2', { id: 'decide-title' }, t(`${as}.title`, { hold: hold.hold })),
    el('p', null, hold.reason),
    el('p', { class: 'caution' }, t('caution.release')),
    as === 'agree' ? el('p', null, t('agree.what')) : null,
    alone ? el('p', { class: 'second', id: 'decide-alone' }, el('strong', null, t('second.waits')), ' ', t('second.first')) : null,
    whatBecomes(given?.disposition, changed),
    into,
    gradeField,
    whichLots(hold, given?.lots),
    el('div', { class: 'field' }, el('label', { for: 'decide-reason' }, t('field.reason')), reason),
    said,
    el('div', { class: 'actions' }, send, close),
  );
  const dialog = el('dialog', { class: 'decide', 'aria-labelledby': 'decide-title', close: () => dialog.remove() }, form);
  document.body.append(dialog);
  changed();
  dialog.showModal();
  (form.querySelector('[name=disposition]:checked') || form.querySelector('[name=disposition]')).focus();
}
