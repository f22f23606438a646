// The door, over whatever page one is on: signing in again when the session has ended, the password once more for what
// is decided with it, and asking before a page goes on under another name. What stands in the page stays there.

import { el, put } from './dom.js';
import * as api from './api.js';
import { problemText } from './said.js';
import { learnArea, t } from './words.js';

await learnArea('people');

/** Why signing in did not work, in a sentence. */
export function refusalText(problem) {
  if (problem.slug === 'not-known') return t('door.not-known');
  if (problem.slug === 'locked') return t('door.locked', { n: Math.max(1, Math.ceil((problem.after || 60) / 60)) });
  return problemText(problem);
}

/** A labelled box of a form. */
export function box(id, label, attrs = {}, hint = null) {
  const input = el('input', {
    id,
    autocomplete: 'off',
    'aria-describedby': hint ? `${id}-hint` : null,
    spellcheck: 'false',
    ...attrs,
  });
  return {
    input,
    node: el(
      'div',
      { class: 'field' },
      el('label', { for: id }, label),
      hint ? el('span', { class: 'hint', id: `${id}-hint` }, hint) : null,
      input,
    ),
  };
}

let open = null; /* one dialog at a time: whoever needs the same waits for it */

/**
 * A dialog with a form. `send()` does what it is for and throws why not; it resolves with what `send` gives, and rejects
 * with `refusal` when it is left.
 */
function dialog({ title, about, boxes, go, send, refusal }) {
  open ||= new Promise((resolve, reject) => {
    const said = el('div', { role: 'alert' });
    const button = el('button', { type: 'submit', class: 'main' }, go);
    let done = false;
    async function submit(event) {
      event.preventDefault();
      if (button.disabled) return;
      button.disabled = true;
      put(said);
      try {
        const result = await send();
        done = true;
        resolve(result);
        place.close();
      } catch (problem) {
        put(said, el('div', { class: 'trouble' }, refusalText(problem)));
        const last = boxes.at(-1)?.input;
        if (last) {
          last.value = '';
          last.focus();
        }
      } finally {
        button.disabled = false;
      }
    }
    const place = el(
      'dialog',
      {
        class: 'door',
        'aria-labelledby': 'door-title',
        close: () => {
          place.remove();
          if (!done) reject(refusal);
        },
      },
      el(
        'form',
        { submit, novalidate: true },
        el('h2', { id: 'door-title' }, title),
        about.map((text) => el('p', null, text)),
        boxes.map((b) => b.node),
        said,
        el(
          'div',
          { class: 'actions' },
          button,
          el('button', { type: 'button', click: () => place.close() }, t('cancel')),
        ),
      ),
    );
    document.body.append(place);
    place.showModal();
    (boxes.find((b) => !b.input.value) || boxes[0])?.input.focus();
  }).finally(() => {
    open = null;
  });
  return open;
}

/** The password once more: what follows is decided with it. */
export function passwordAgain() {
  const word = box('door-password', t('door.password'), { type: 'password', autocomplete: 'current-password' });
  return dialog({
    title: t('door.again'),
    about: [t('door.again.what')],
    boxes: [word],
    go: t('door.again.go'),
    send: () => api.enter('/api/session/again', { password: word.input.value }),
    refusal: new api.Problem(403, { type: 'password-again', detail: t('bar.password-again') }),
  });
}

/** The page where one signs in, and from there back to this one. */
export const signInPage = () =>
  api.url('signin.html', { to: `${location.pathname.split('/').pop()}${location.search}${location.hash}` });

/** The page to go on to: one of these pages, never another site's. */
export function target(text) {
  return /^[\w-]+\.html([?#].*)?$/.test(text || '') && !/^signin\.html/.test(text) ? text : 'index.html';
}

/** The session has ended. Who was here signs in over the page; on a page that nobody has seen yet, one goes to the door. */
export function signInAgain(was) {
  if (!was) {
    location.assign(signInPage());
    return new Promise(() => {}); /* the page goes away */
  }
  const person = box('door-person', t('door.person'), { class: 'code-in', autocomplete: 'username', value: was.by });
  const word = box('door-password', t('door.password'), { type: 'password', autocomplete: 'current-password' });
  return dialog({
    title: t('door.ended'),
    about: [t('door.ended.what')],
    boxes: [person, word],
    go: t('door.sign-in'),
    send: () =>
      api.enter('/api/session', { person: person.input.value.trim().toUpperCase(), password: word.input.value }),
    refusal: new api.Problem(401, { type: 'no-session', detail: t('bar.no-session') }),
  }).then((who) => {
    document.dispatchEvent(new CustomEvent('kinwire-who', { detail: who }));
    return who;
  });
}

/** Somebody else has signed in beside this page: nothing is recorded under their name unless they say so. */
export const goOnAs = (now) =>
  dialog({
    title: t('door.other', { name: now.name, by: now.by }),
    about: [t('door.other.what')],
    boxes: [],
    go: t('door.other.go', { name: now.name }),
    send: async () => {
      document.dispatchEvent(new CustomEvent('kinwire-who', { detail: now }));
      return now;
    },
    refusal: new api.Problem(403, { type: 'not-allowed', detail: t('bar.not-allowed') }),
  });
