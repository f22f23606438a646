// Log: a plain form for each kind of entry that a person makes. What the server refuses is said at the field it is
// about; the entry's key is kept until there is an answer, so that pressing twice never records twice.

import { byId, el, put } from './dom.js';
import * as api from './api.js';
import { boxFor, formOf } from './fields.js';
import { KINDS } from './forms.js';
import { frame } from './frame.js';
import { bodyOf } from './body.js';
import { findingText, problemText } from './said.js';
import { learnArea, t, term } from './words.js';

const asked = new URLSearchParams(location.search);
const kind = KINDS[asked.get('kind')] ? asked.get('kind') : 'receive';

/** What the address says of the body: a lot for a hold, a hold for a release. */
function given() {
  const body = Object.fromEntries([...asked].filter(([name]) => name !== 'kind'));
  if (body.lot && kind === 'hold') body.lots = [{ lot: body.lot }];
  if (body.lot && (kind === 'move' || kind === 'dispatch')) body.lots = [body.lot];
  if (body.seq) body.entry = body.seq;
  const names = KINDS[kind].fields.map((f) => f.name);
  return Object.fromEntries(Object.entries(body).filter(([name]) => names.includes(name)));
}

function clear(form) {
  for (const box of form.querySelectorAll('[aria-invalid]')) box.removeAttribute('aria-invalid');
  for (const place of form.querySelectorAll('.wrong')) place.textContent = '';
}

/** Say what is wrong at its box. */
function sayAt(box, text) {
  const group = box.matches('fieldset');
  const place = group ? [...box.children].find((n) => n.matches('.wrong')) : byId(`${box.id}-wrong`);
  if (!group) box.setAttribute('aria-invalid', 'true');
  place.textContent = text;
}

const subject = {
  hold: 'hold',
  heat: 'heat',
  supply: 'supply',
  receive: 'lot',
  batch: 'batch',
  run: 'run',
  test: 'test',
  scrap: 'lot',
  certify: 'certificate',
  withdraw: 'certificate',
  clear: 'certificate',
  dispatch: 'consignment',
  release: 'hold',
};
const typeOf = {
  receive: 'lot',
  scrap: 'lot',
  certify: 'certificate',
  withdraw: 'certificate',
  clear: 'certificate',
  dispatch: 'consignment',
  release: 'hold',
};

function showReceipt(receipt) {
  const code = receipt.body?.[subject[kind]];
  put(
    byId('receipt'),
    el(
      'div',
      { class: 'done', tabindex: '-1', id: 'done' },
      el(
        'strong',
        null,
        t(receipt.again ? 'receipt.again' : 'receipt.done', { kind: term('entry', kind), seq: receipt.seq }),
      ),
      ' ',
      code ? el('a', { class: 'code', href: api.pageOf(typeOf[kind] || kind, code) }, code) : null,
      ' ',
      el('a', { href: api.pageOf('entry', receipt.seq) }, t('entry-n', { seq: receipt.seq })),
      el('p', { class: 'hash' }, t('receipt.head', { seq: receipt.seq, head: receipt.head })),
      (receipt.findings || []).map((f) => el('p', { class: 'warn' }, el('strong', null, t('finding')), ' ', findingText(f))),
      el('details', null, el('summary', null, t('receipt.body')), bodyOf(kind, receipt.body)),
    ),
  );
  byId('done').focus();
}

function draw(body) {
  let key = api.newKey();
  const fields = formOf(kind);
  const at = el('input', {
    type: 'datetime-local',
    step: 1,
    id: 'when',
    'data-step': 'at',
    'aria-describedby': 'when-hint when-wrong',
  });
  const said = el('div', { role: 'alert' });
  const send = el(
    'button',
    { class: 'main', type: 'submit', id: 'record' },
    t('log.record', { kind: term('entry', kind) }),
  );
  const form = el(
    'form',
    { novalidate: true, id: 'form' },
    el('div', { class: 'fields', 'data-step': 'body' }, fields.parts),
    el(
      'div',
      { class: 'fields spaced' },
      el(
        'div',
        { class: 'field' },
        el('label', { for: 'when' }, t('field.at')),
        el('span', { class: 'hint', id: 'when-hint' }, t('hint.at')),
        at,
        el('span', { class: 'wrong', id: 'when-wrong' }),
      ),
    ),
    said,
    el('div', { class: 'actions' }, send),
  );
  fields.fill(body);

  function refuse(list) {
    let first = null;
    const loose = [];
    for (const { box, text } of list) {
      if (box) sayAt(box, text);
      else loose.push(text);
      first ||= box;
    }
    put(
      said,
      el(
        'div',
        { class: 'trouble' },
        el('strong', null, t('refused')),
        ' ',
        loose.length > 0 ? loose.join(' ') : t('refused.see', { n: list.length }),
      ),
    );
    first?.focus();
  }

  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    if (send.disabled) return;
    clear(form);
    put(said);
    put(byId('receipt'));
    const wrong = [];
    const entry = { key, kind, body: fields.read(wrong) };
    if (at.value) entry.at = `${at.value.length === 16 ? `${at.value}:00` : at.value}Z`;
    if (wrong.length > 0) return refuse(wrong);
    send.disabled = true;
    try {
      const receipt = await api.append(entry);
      key = api.newKey();
      draw({});
      showReceipt(receipt);
    } catch (problem) {
      refuse([
        { box: boxFor(form, problem.pointer), text: problem.status === 0 ? t('no-answer.log') : problemText(problem) },
      ]);
    } finally {
      send.disabled = false;
    }
    return undefined;
  });

  put(
    byId('sheet'),
    el('h2', { id: 'form-title' }, t(`log.${kind}`)),
    el('p', { class: 'quiet' }, t(`log.${kind}.what`)),
    KINDS[kind].caution ? el('p', { class: 'caution' }, t(KINDS[kind].caution)) : null,
    form,
  );
}

function main() {
  frame('log');
  put(
    byId('kinds'),
    Object.keys(KINDS)
      .filter((name) => !KINDS[name].elsewhere)
      .map((name) =>
        el(
          'li',
          null,
          el(
            'a',
            { href: api.url('log.html', { kind: name }), 'aria-current': name === kind ? 'page' : null },
            term('entry', name),
          ),
        ),
      ),
  );
  draw(given());
}

await learnArea('measured');
main();
