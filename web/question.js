// The question of a recall: what is suspected, and which way to look. It lives in the page's address, in the words of
// the API.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import { suggest } from './suggest.js';
import { t } from './words.js';

export const TYPES = [
  'heat',
  'lot',
  'batch',
  'run',
  'weld',
  'machine',
  'instrument',
  'test',
  'certificate',
  'consignment',
  'supply',
];
const DIRECTIONS = ['forward', 'back', 'kin'];
const ASKED = ['origin', 'direction', 'from_mm', 'to_mm', 'since', 'until'];

/** The question in the address, or null. */
export function fromAddress() {
  const given = new URLSearchParams(location.search);
  if (!given.get('origin')) return null;
  return Object.fromEntries(ASKED.filter((name) => given.get(name)).map((name) => [name, given.get(name)]));
}

export function originOf(question) {
  const cut = question.origin.indexOf(':');
  return { type: question.origin.slice(0, cut), code: question.origin.slice(cut + 1) };
}

/** The question as a sentence: "Heat H700: what did it touch?" */
export function inWords(question) {
  const { type, code } = originOf(question);
  const parts = [t('question.about', { type: t(`type.${type}`), code })];
  if (question.from_mm || question.to_mm) {
    parts.push(
      t('question.part', {
        from: fmt.lengthExact(Number(question.from_mm || 0)),
        to: question.to_mm ? fmt.lengthExact(Number(question.to_mm)) : t('question.end'),
      }),
    );
  }
  if (question.since) parts.push(t('question.since', { at: fmt.stamp(question.since) }));
  if (question.until) parts.push(t('question.until', { at: fmt.stamp(question.until) }));
  return `${parts.join(', ')}: ${t(`direction.${question.direction || 'forward'}`)}`;
}

function radios(name, values, checked, draw, cls) {
  return el(
    'div',
    { class: cls },
    values.map((value) =>
      el('label', null, el('input', { type: 'radio', name, value, checked: value === checked }), draw(value)),
    ),
  );
}

function field(id, key, attrs, hint) {
  return el(
    'div',
    { class: 'field' },
    el('label', { for: id }, t(key)),
    hint && el('span', { class: 'hint', id: `${id}-hint` }, hint),
    el('input', { id, 'aria-describedby': hint ? `${id}-hint` : null, ...attrs }),
  );
}

/** A time as the box for it takes it, in UTC. */
const boxTime = (text) => (text ? new Date(text).toISOString().slice(0, 16) : '');

/** Draw the form into `form`, filled from `question`; `asked(question)` is called with a complete one. */
export function questionForm(form, question, asked) {
  const origin = question ? originOf(question) : { type: 'heat', code: '' };
  const si = (mm) => (mm ? fmt.typed(Number(mm), 'length') : '');
  const code = el('input', {
    id: 'code',
    class: 'code-in',
    value: origin.code,
    'aria-required': 'true',
    'aria-describedby': 'code-wrong',
    enterkeyhint: 'go',
  });
  const part = el(
    'fieldset',
    { hidden: true },
    el('legend', null, t('question.part.title')),
    el(
      'div',
      { class: 'fields' },
      field(
        'from',
        'question.from',
        { inputmode: 'decimal', value: si(question?.from_mm) },
        t('question.inner', { unit: fmt.unitOf('length') }),
      ),
      field(
        'to',
        'question.to',
        { inputmode: 'decimal', value: si(question?.to_mm) },
        t('question.outer', { unit: fmt.unitOf('length') }),
      ),
    ),
  );
  const time = el(
    'fieldset',
    { hidden: true },
    el('legend', null, t('question.window')),
    el(
      'div',
      { class: 'fields' },
      field('since', 'question.since.label', { type: 'datetime-local', value: boxTime(question?.since) }, t('utc')),
      field('until', 'question.until.label', { type: 'datetime-local', value: boxTime(question?.until) }, t('utc')),
    ),
  );
  const wrong = el('span', { class: 'wrong', id: 'code-wrong', role: 'alert' });
  put(
    form,
    el(
      'fieldset',
      null,
      el('legend', null, t('question.type')),
      radios('type', origin.type === 'hold' ? [...TYPES, 'hold'] : TYPES, origin.type, (v) => el('span', null, t(`type.${v}`)), 'choices'),
    ),
    el(
      'fieldset',
      null,
      el(
        'div',
        { class: 'fields' },
        el(
          'div',
          { class: 'field wide' },
          el('label', { for: 'code', id: 'code-label' }, t('question.code')),
          code,
          wrong,
        ),
      ),
    ),
    part,
    time,
    el(
      'fieldset',
      null,
      el('legend', null, t('question.direction')),
      radios(
        'direction',
        DIRECTIONS,
        question?.direction || 'forward',
        (v) => el('span', null, t(`direction.${v}`), el('small', null, t(`direction.${v}.what`))),
        'choices wide',
      ),
    ),
    el('div', { class: 'actions' }, el('button', { class: 'main', type: 'submit' }, t('question.ask'))),
  );

  const picked = (name) => form.querySelector(`input[name="${name}"]:checked`).value;
  const list = suggest(code, {
    types: () => null,
    chosen: (found) => {
      const radio = form.querySelector(`input[name="type"][value="${found.type}"]`);
      if (radio) radio.checked = true;
      fit();
    },
  });

  function fit() {
    const type = picked('type');
    byId('code-label').textContent = t(`question.code.${type}`);
    part.hidden = type !== 'lot';
    time.hidden = type !== 'machine' && type !== 'instrument';
  }

  const utc = (text) => (text ? `${text.length === 16 ? `${text}:00` : text}Z` : undefined);

  function read() {
    const type = picked('type');
    const made = { origin: `${type}:${code.value.trim().toUpperCase()}`, direction: picked('direction') };
    if (!part.hidden) {
      for (const [id, name] of [
        ['from', 'from_mm'],
        ['to', 'to_mm'],
      ]) {
        const text = byId(id).value.trim();
        const mm = text === '' ? undefined : fmt.readQuantity(text, 'length');
        byId(id).setAttribute('aria-invalid', String(Number.isNaN(mm)));
        if (Number.isNaN(mm)) {
          byId(id).focus();
          return null;
        }
        if (mm !== undefined) made[name] = String(mm);
      }
      const [given, other] =
        [
          ['from_mm', 'to'],
          ['to_mm', 'from'],
        ].find(([name]) => made[name]) || [];
      if (given && !(made.from_mm && made.to_mm)) {
        wrong.textContent = t('question.part.both');
        byId(other).setAttribute('aria-invalid', 'true');
        byId(other).focus();
        return null;
      }
    }
    if (!time.hidden) {
      if (byId('since').value) made.since = utc(byId('since').value);
      if (byId('until').value) made.until = utc(byId('until').value);
    }
    return made;
  }

  form.addEventListener('change', fit);
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    list.close();
    wrong.textContent = code.value.trim() ? '' : t('question.code.missing');
    code.setAttribute('aria-invalid', String(!code.value.trim()));
    if (!code.value.trim()) return code.focus();
    const made = read();
    return made ? asked(made) : undefined;
  });
  fit();
}
