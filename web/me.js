// One's own sign-in: who one is, a new password, a PIN for the terminals of the floor, and the way out.

import { byId, el, facts, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { box, refusalText } from './door.js';
import { frame, signOut, trouble } from './frame.js';
import { sheet } from './parts.js';
import { roles } from './roll.js';
import { t } from './words.js';

function form(id, title, about, fields, go, send) {
  const said = el('div', { role: 'alert' });
  const button = el('button', { type: 'submit', class: 'main' }, go);
  return sheet(
    id,
    title,
    el('p', { class: 'quiet' }, about),
    el(
      'form',
      {
        novalidate: true,
        submit: async (event) => {
          event.preventDefault();
          if (button.disabled) return;
          button.disabled = true;
          put(said);
          try {
            put(said, el('div', { class: 'done' }, await send()));
            for (const f of fields) f.input.value = '';
          } catch (problem) {
            put(said, el('div', { class: 'trouble' }, problem.plain || refusalText(problem)));
            fields.at(-1).input.focus();
          } finally {
            button.disabled = false;
          }
        },
      },
      fields.map((f) => f.node),
      said,
      el('div', { class: 'actions' }, button),
    ),
  );
}

const secret = (id, label, complete, hint) => box(id, label, { type: 'password', autocomplete: complete }, hint);

function same(one, other) {
  if (one.input.value !== other.input.value) throw Object.assign(new Error(), { plain: t('door.not-same') });
}

function password() {
  const [old, fresh, repeat] = [
    secret('old', t('door.old'), 'current-password'),
    secret('new', t('door.new'), 'new-password', t('door.new.hint')),
    secret('repeat', t('door.repeat'), 'new-password'),
  ];
  return form('password-title', t('me.password'), t('me.password.what'), [old, fresh, repeat], t('door.set.go'), async () => {
    same(fresh, repeat);
    await api.enter('/api/password', { old: old.input.value, new: fresh.input.value });
    return t('me.password.done');
  });
}

function pin() {
  const [one, two] = [
    box('pin', t('me.pin.new'), { type: 'password', inputmode: 'numeric', autocomplete: 'off', maxlength: 12 }, t('me.pin.hint')),
    box('pin-repeat', t('door.repeat'), { type: 'password', inputmode: 'numeric', autocomplete: 'off', maxlength: 12 }),
  ];
  return form('pin-title', t('me.pin'), t('me.pin.what'), [one, two], t('me.pin.go'), async () => {
    same(one, two);
    await api.order('/api/pin', { pin: one.input.value });
    return t('me.pin.done');
  });
}

async function main() {
  frame('me');
  const place = byId('me');
  try {
    const who = await api.me();
    if (who.open) return put(place, el('p', null, t('door.open')));
    put(
      place,
      sheet(
        'me-title',
        who.name,
        facts([
          [t('person.code'), el('span', { class: 'code' }, who.by)],
          [t('person.roles'), roles(who.roles)],
          [t('me.terminal'), who.terminal],
          [t('me.ends'), who.ends_s ? fmt.stamp(new Date(Date.now() + who.ends_s * 1000).toISOString()) : null],
        ]),
        el('div', { class: 'actions' }, el('button', { type: 'button', click: signOut }, t('who.sign-out'))),
      ),
      who.how === 'password' ? password() : null,
      who.how === 'password' && who.roles.includes('operator') ? pin() : null,
    );
  } catch (problem) {
    trouble(place, problem);
  }
  return undefined;
}

main();
