// What leaves the mill: of one thing, of a month, of any other time or of everything, in a form that others read. The form makes one
// address of the API, and the browser saves what it answers.

import { el, put } from './dom.js';
import * as api from './api.js';
import * as fmt from './format.js';
import { TYPES } from './question.js';
import { problemText } from './said.js';
import { t } from './words.js';

const SCOPES = ['origin', 'month', 'times', 'all'];
const TIMED = ['machine', 'instrument']; /* what can be asked about between two times */
/** `thing`: only of one thing, since it would be too long of more. */
const FORMS = [
  { name: 'report', thing: true },
  { name: 'pack' },
  { name: 'entries' },
  { name: 'csv' },
  { name: 'epcis' },
  { name: 'prov' },
];
const DIRECTIONS = ['', 'back', 'forward', 'kin'];

const radio = (name, value, checked) =>
  el(
    'label',
    null,
    el('input', { type: 'radio', name, value, checked }),
    el('span', null, t(`${name}.${value}`), el('small', null, t(`${name}.${value}.what`))),
  );

const group = (key, ...kids) => el('fieldset', null, el('legend', null, t(key)), kids);

function field(id, key, input, hint) {
  if (hint) input.setAttribute('aria-describedby', `${id}-hint`);
  return el(
    'div',
    { class: 'field' },
    el('label', { for: id }, t(key)),
    el('span', { class: 'hint', id: hint ? `${id}-hint` : null }, hint || ''), // its row, so that boxes stand side by side
    input,
  );
}

/** A time out of a box, which has no zone: it is in UTC. */
const utc = (text) => (text ? `${text.length === 16 ? `${text}:00` : text}Z` : '');

function codeField(now) {
  return el(
    'div',
    { class: 'fields' },
    field(
      'take-type',
      'take.type',
      el(
        'select',
        { id: 'take-type' },
        TYPES.map((v) => el('option', { value: v, selected: v === 'lot' }, t(`type.${v}`))),
      ),
    ),
    field('take-code', 'take.code', el('input', { id: 'take-code', class: 'code-in', autocomplete: 'off' })),
    field(
      'take-direction',
      'take.direction',
      el(
        'select',
        { id: 'take-direction' },
        DIRECTIONS.map((v) => el('option', { value: v }, t(`take.direction.${v || 'usual'}`))),
      ),
    ),
    ['from', 'to'].map((end) =>
      field(
        `take-${end}`,
        `question.${end}`,
        el('input', { id: `take-${end}`, inputmode: 'decimal', autocomplete: 'off' }),
        t('question.inner', { unit: fmt.unitOf('length') }),
      ),
    ),
    field('take-month', 'take.month', el('input', { id: 'take-month', placeholder: now, inputmode: 'numeric' })),
    field('take-since', 'take.since', el('input', { id: 'take-since', type: 'datetime-local' }), t('utc')),
    field('take-until', 'take.until', el('input', { id: 'take-until', type: 'datetime-local' }), t('take.until.hint')),
  );
}

/** Draw the form into `form`. */
export function takeOut(form) {
  const now = new Date().toISOString().slice(0, 7);
  const wrong = el('p', { class: 'wrong field', id: 'take-wrong', role: 'alert' });
  put(
    form,
    group(
      'take.scope',
      el(
        'div',
        { class: 'choices wide' },
        SCOPES.map((v) => radio('scope', v, v === 'origin')),
      ),
    ),
    codeField(now),
    group(
      'take.form',
      el(
        'div',
        { class: 'choices wide' },
        FORMS.map((f) => radio('as', f.name, f.name === 'pack')),
      ),
    ),
    el('div', { class: 'actions' }, el('button', { class: 'main', type: 'submit' }, t('take.go'))),
    wrong, // below the button, so that it does not move from under a finger
  );

  const picked = (name) => form.querySelector(`input[name="${name}"]:checked`).value;
  const input = (name) => form.querySelector(`#take-${name}`);
  const show = (name, on) => {
    input(name).closest('.field').hidden = !on;
  };

  function fit() {
    const scope = picked('scope');
    for (const name of ['type', 'code', 'direction']) show(name, scope === 'origin');
    show('month', scope === 'month');
    for (const name of ['from', 'to']) show(name, scope === 'origin' && input('type').value === 'lot');
    const timed = scope === 'times' || (scope === 'origin' && TIMED.includes(input('type').value));
    for (const name of ['since', 'until']) show(name, timed);
    for (const { name, thing } of FORMS) {
      const choice = form.querySelector(`input[name="as"][value="${name}"]`);
      choice.disabled = Boolean(thing) && scope !== 'origin';
      if (choice.disabled && choice.checked) form.querySelector('input[name="as"][value="pack"]').checked = true;
    }
    put(wrong);
  }

  function missing(name) {
    put(wrong, t(`take.${name}.missing`, { now }));
    input(name).focus();
    return null;
  }

  /* The part of a lot; of neither end nothing is said. Null when it is not whole. */
  function part() {
    const ends = ['from', 'to'].filter((name) => !input(name).closest('.field').hidden && input(name).value.trim());
    if (ends.length === 0) return {};
    const at = Object.fromEntries(ends.map((name) => [`${name}_mm`, fmt.readQuantity(input(name).value, 'length')]));
    const bad = ends.find((name) => !(at[`${name}_mm`] >= 0)) || ['from', 'to'].find((name) => !ends.includes(name));
    return bad ? missing(bad) : at;
  }

  /* What is asked for as the API says it; null, with the reason on the page, when it is not whole. */
  function asked() {
    const scope = picked('scope');
    const shown = (name) => (input(name).closest('.field').hidden ? '' : utc(input(name).value));
    const times = { since: shown('since'), until: shown('until') };
    if (scope === 'all') return { origin: 'all' };
    if (scope === 'times') return times.since || times.until ? { origin: 'all', ...times } : missing('since');
    if (scope === 'month') {
      const month = input('month').value.trim();
      return /^\d{4}-(0[1-9]|1[0-2])$/.test(month) ? { origin: `month:${month}` } : missing('month');
    }
    const code = input('code').value.trim().toUpperCase();
    if (!code) return missing('code');
    const ends = part();
    return ends && { origin: `${input('type').value}:${code}`, direction: input('direction').value, ...times, ...ends };
  }

  form.addEventListener('change', fit);
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    put(wrong);
    const question = asked();
    if (!question) return;
    const query = { ...question, as: picked('as') };
    // Everything may be long: the browser saves it as it comes. Of the rest what is refused is told here.
    if (picked('scope') === 'all') return el('a', { href: api.url('/api/export', query), download: '' }).click();
    try {
      const answer = await api.file('/api/export', query);
      const name = /filename="([^"]+)"/.exec(answer.headers.get('Content-Disposition') || '');
      const place = URL.createObjectURL(await answer.blob());
      el('a', { href: place, download: name ? name[1] : 'export' }).click();
      setTimeout(() => URL.revokeObjectURL(place), 60000);
    } catch (problem) {
      put(wrong, problemText(problem));
      if (!(problem instanceof api.Problem)) throw problem;
    }
    return null;
  });
  fit();
}
