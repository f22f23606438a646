// Signing in: by person and password; or, the first time and after a password was forgotten, by a one-time code that sets
// a new one. Afterwards back to the page that one came from.

import { byId, el, put } from './dom.js';
import * as api from './api.js';
import { box, refusalText, target } from './door.js';
import { frame, trouble } from './frame.js';
import { banner } from './serving.js';
import { t } from './words.js';

const to = target(new URLSearchParams(location.search).get('to'));

const boxes = {
  person: (value) => box('person', t('door.person'), { class: 'code-in', autocomplete: 'username', maxlength: 40, value }),
  password: () => box('password', t('door.password'), { type: 'password', autocomplete: 'current-password' }),
  code: () => box('code', t('door.code'), { class: 'code-in', autocomplete: 'one-time-code' }, t('door.code.hint')),
  fresh: () =>
    box('new', t('door.new'), { type: 'password', autocomplete: 'new-password', minlength: 12 }, t('door.new.hint')),
  repeat: () => box('repeat', t('door.repeat'), { type: 'password', autocomplete: 'new-password' }),
};

function form({ title, about = null, fields, go, send, other }) {
  const said = el('div', { role: 'alert' });
  const button = el('button', { type: 'submit', class: 'main' }, go);
  async function submit(event) {
    event.preventDefault();
    if (button.disabled) return;
    put(said);
    for (const f of fields) f.input.removeAttribute('aria-invalid');
    const empty = fields.find((f) => !f.input.value.trim());
    if (empty) {
      empty.input.setAttribute('aria-invalid', 'true');
      empty.input.focus();
      put(said, el('div', { class: 'trouble' }, t('door.empty')));
      return;
    }
    button.disabled = true;
    try {
      await send();
    } catch (problem) {
      const wrong =
        fields.find((f) => problem.pointer && `/${f.input.id}` === problem.pointer) || problem.field || fields.at(-1);
      wrong.input.setAttribute('aria-invalid', 'true');
      if (wrong.input.type === 'password') wrong.input.value = '';
      wrong.input.focus();
      put(said, el('div', { class: 'trouble' }, problem.field ? problem.message : refusalText(problem)));
    } finally {
      button.disabled = false;
    }
  }
  put(
    byId('door'),
    el('h1', { id: 'door-title' }, title),
    about,
    el(
      'form',
      { submit, novalidate: true },
      fields.map((f) => f.node),
      said,
      el('div', { class: 'actions' }, button, other),
    ),
  );
  (fields.find((f) => !f.input.value) || fields[0]).input.focus();
}

const asCode = (input) => input.value.trim().toUpperCase();

function signIn(person = '', about = null) {
  const fields = [boxes.person(person), boxes.password()];
  form({
    title: t('door.sign-in'),
    about,
    fields,
    go: t('door.sign-in'),
    send: async () => {
      await api.enter('/api/session', { person: asCode(fields[0].input), password: fields[1].input.value });
      location.assign(to);
    },
    other: el(
      'button',
      { type: 'button', id: 'by-code', click: () => byCode(fields[0].input.value) },
      t('door.have-code'),
    ),
  });
}

function byCode(person = '') {
  const fields = [boxes.person(person), boxes.code(), boxes.fresh(), boxes.repeat()];
  form({
    title: t('door.set'),
    about: el('p', { class: 'quiet' }, t('door.set.what')),
    fields,
    go: t('door.set.go'),
    send: async () => {
      const [who, code, fresh, repeat] = fields.map((f) => f.input);
      if (fresh.value !== repeat.value) throw Object.assign(new Error(t('door.not-same')), { field: fields[3] });
      await api.enter('/api/password', { person: asCode(who), code: code.value.trim(), new: fresh.value });
      signIn(asCode(who), el('div', { class: 'done', role: 'status' }, t('door.set.done')));
    },
    other: el('button', { type: 'button', click: () => signIn(fields[0].input.value) }, t('door.have-password')),
  });
}

async function main() {
  frame('signin', { door: true });
  const place = byId('door');
  try {
    const now = await api.session();
    banner(now);
    const go = el('p', null, el('a', { class: 'button main', href: to }, t('door.go-on')));
    if (now.open) return put(place, el('h1', { id: 'door-title' }, t('door.sign-in')), el('p', null, t('door.open')), go);
    if (now.setup) {
      byCode();
      byId('door').prepend(el('div', { class: 'caution', role: 'note' }, t('door.setup')));
      return undefined;
    }
    if (now.signed_in) {
      const who = await api.me();
      signIn('', el('div', { class: 'done' }, t('door.already', { name: who.name, by: who.by }), ' ', go));
    } else signIn();
  } catch (problem) {
    trouble(place, problem);
  }
  return undefined;
}

main();
