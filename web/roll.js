// What the pages of people, terminals and tokens share: a list with a form to add to it, what is shown once, and closing.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { box, refusalText } from './door.js';
import { t, term } from './words.js';

/** A dialog that shows something once: a code or a secret that nobody can look up again. */
export function showOnce({ title, about, secret, expires = null }) {
  const close = el('button', { type: 'button', class: 'main', click: () => place.close() }, t('once.noted'));
  const copy = el(
    'button',
    {
      type: 'button',
      click: async () => {
        await navigator.clipboard.writeText(secret);
        copy.textContent = t('once.copied');
      },
    },
    t('once.copy'),
  );
  const place = el(
    'dialog',
    { class: 'once', 'aria-labelledby': 'once-title', close: () => place.remove() },
    el('h2', { id: 'once-title' }, title),
    el('p', null, about),
    el('p', { class: 'secret', id: 'secret', tabindex: '0' }, secret),
    expires ? el('p', null, t('once.until', { at: fmt.stamp(expires) })) : null,
    el('p', { class: 'caution' }, t('once.what')),
    el('div', { class: 'actions' }, close, navigator.clipboard ? copy : null),
  );
  document.body.append(place);
  place.showModal();
  byId('secret').focus();
}

/** A box of several choices, as a fieldset of check boxes: read() gives the values chosen. */
export function choices(legend, options, chosen = []) {
  const inputs = options.map(([value]) => el('input', { type: 'checkbox', value, checked: chosen.includes(value) }));
  return {
    input: inputs[0],
    read: () => inputs.filter((i) => i.checked).map((i) => i.value),
    node: el(
      'fieldset',
      { class: 'role-choices' },
      el('legend', null, legend),
      options.map(([value, text, what], i) =>
        el(
          'label',
          null,
          inputs[i],
          el('span', null, el('strong', null, text), what ? el('span', { class: 'quiet' }, ` ${what}`) : null),
        ),
      ),
    ),
  };
}

/** A box with a list to choose from. */
export function select(id, label, options, value = '') {
  const input = el(
    'select',
    { id },
    options.map(([v, text]) => el('option', { value: v, selected: v === value }, text)),
  );
  return { input, node: el('div', { class: 'field' }, el('label', { for: id }, label), input) };
}

export const roles = (list) => list.map((role) => term('role', role)).join(', ') || t('role.none');

/**
 * A dialog that records an entry: `fields` are boxes, `body()` what they say. Resolves with the receipt; null when it is
 * left.
 */
export function record({ title, about = null, kind, fields, body, go }) {
  return new Promise((resolve) => {
    const key = api.newKey();
    const said = el('div', { role: 'alert' });
    const button = el('button', { type: 'submit', class: 'main' }, go);
    let receipt = null;
    async function submit(event) {
      event.preventDefault();
      if (button.disabled) return;
      button.disabled = true;
      put(said);
      for (const f of fields) f.input.removeAttribute('aria-invalid');
      try {
        receipt = await api.append({ key, kind, body: body() });
        place.close();
      } catch (problem) {
        const at = fields.find((f) => f.member && (problem.pointer || '').startsWith(`/body/${f.member}`));
        at?.input.setAttribute('aria-invalid', 'true');
        put(said, el('div', { class: 'trouble' }, el('strong', null, t('refused')), ' ', refusalText(problem)));
        at?.input.focus();
      } finally {
        button.disabled = false;
      }
    }
    const place = el(
      'dialog',
      {
        'aria-labelledby': 'record-title',
        close: () => {
          place.remove();
          resolve(receipt);
        },
      },
      el(
        'form',
        { submit, novalidate: true },
        el('h2', { id: 'record-title' }, title),
        about ? el('p', null, about) : null,
        fields.map((f) => f.node),
        said,
        el('div', { class: 'actions' }, button, el('button', { type: 'button', click: () => place.close() }, t('cancel'))),
      ),
    );
    document.body.append(place);
    place.showModal();
    (fields.find((f) => f.input.value === '') || fields[0])?.input.focus();
  });
}

/** A box whose refusals the server points to by `member`. */
export const member = (name, ...of) => ({ ...box(...of), member: name });

/**
 * A page that is a list. `read()` gives its items, `draw(item)` one as a list item; it is drawn anew by what it returns.
 * What can't be had, or done, is said above it.
 */
export function list(place, { read, draw, empty }) {
  const said = byId('said');
  async function again() {
    try {
      const items = await read();
      put(
        place,
        items.length > 0 ? el('ul', { class: 'roll' }, items.map(draw)) : el('p', { class: 'quiet' }, empty),
      );
    } catch (problem) {
      put(place, el('div', { class: 'trouble', role: 'alert' }, refusalText(problem)));
    }
  }
  return {
    again,
    /** A button that does something and then draws the list anew. */
    button: (text, work, attrs = {}) =>
      el(
        'button',
        {
          type: 'button',
          ...attrs,
          click: async () => {
            put(said);
            try {
              await work();
              await again();
            } catch (problem) {
              put(said, el('div', { class: 'trouble' }, refusalText(problem)));
              said.scrollIntoView({ block: 'nearest' });
            }
          },
        },
        text,
      ),
  };
}

/** A state as a word with a mark, so that it is read without colour. */
export const state = (good, text) =>
  el('span', { class: `mark ${good ? 'fine' : 'look'}` }, el('span', { 'aria-hidden': 'true' }, good ? '\u2713 ' : '\u25b2 '), text);
