// People: who there is, what each may do, and the one-time codes by which they set a password or a PIN.

import { byId, el } from './dom.js';
import * as api from './api.js';
import { frame } from './frame.js';
import { choices, list, member, record, roles, showOnce, state } from './roll.js';
import { t } from './words.js';

const ROLES = ['operator', 'quality', 'auditor', 'administrator'];
const asCode = (input) => input.value.trim().toUpperCase();

/** What stands of a person as the body of an entry. */
const bodyOf = (p) => ({
  person: p.person,
  name: p.name,
  roles: p.roles,
  ...(p.badge ? { badge: p.badge } : {}),
  ...(p.note ? { note: p.note } : {}),
});

function edit(p = null) {
  const person = member(
    'person',
    'p-code',
    t('person.code'),
    { class: 'code-in', maxlength: 40, value: p?.person, readonly: Boolean(p) },
    t('person.code.hint'),
  );
  const name = member('name', 'p-name', t('person.name'), { maxlength: 200, value: p?.name });
  const badge = member(
    'badge',
    'p-badge',
    t('person.badge'),
    { class: 'code-in', maxlength: 40, value: p?.badge },
    t('person.badge.hint'),
  );
  const may = {
    ...choices(t('person.roles'), ROLES.map((r) => [r, t(`role.${r}`), t(`role.${r}.what`)]), p?.roles || ['operator']),
    member: 'roles',
  };
  return record({
    title: p ? t('person.change', { name: p.name }) : t('person.add'),
    about: p ? t('person.change.what') : null,
    kind: 'person',
    fields: [person, name, badge, may],
    body: () => ({
      person: asCode(person.input),
      name: name.input.value.trim(),
      roles: may.read(),
      ...(asCode(badge.input) ? { badge: asCode(badge.input) } : {}),
      ...(p?.note ? { note: p.note } : {}),
    }),
    go: t('record'),
  });
}

const close = (p, closed) =>
  record({
    title: t(closed ? 'person.close' : 'person.open', { name: p.name }),
    about: t(closed ? 'person.close.what' : 'person.open.what'),
    kind: 'person',
    fields: [],
    body: () => ({ ...bodyOf(p), ...(closed ? { closed: true } : {}) }),
    go: t(closed ? 'close-it' : 'open-it'),
  });

async function code(p, what) {
  const got = await api.order(`/api/people/${encodeURIComponent(p.person)}/${what}`);
  showOnce({
    title: t(`person.${what}`, { name: p.name }),
    about: t(`person.${what}.what`),
    secret: got.code,
    expires: got.expires,
  });
}

const page = list(byId('list'), {
  read: async () => (await api.get('/api/people')).people,
  empty: t('person.none'),
  draw: (p) =>
    el(
      'li',
      { class: p.closed ? 'closed' : null, 'data-code': p.person },
      el(
        'div',
        { class: 'roll-head' },
        el('strong', null, p.name),
        el('span', { class: 'code' }, p.person),
        p.closed ? state(false, t('closed')) : null,
        p.locked_s > 0 ? state(false, t('person.locked', { n: Math.ceil(p.locked_s / 60) })) : null,
      ),
      el(
        'p',
        null,
        roles(p.roles),
        p.badge ? [` \u00b7 ${t('person.badge')} `, el('span', { class: 'code' }, p.badge)] : null,
      ),
      p.password === undefined || p.closed
        ? null
        : el(
            'p',
            null,
            state(p.password, t(p.password ? 'person.has-password' : 'person.no-password')),
            ' ',
            p.roles.includes('operator') ? state(p.pin, t(p.pin ? 'person.has-pin' : 'person.no-pin')) : null,
          ),
      el(
        'div',
        { class: 'actions' },
        page.button(t('change'), () => edit(p), { 'aria-label': t('person.change', { name: p.name }) }),
        p.closed ? null : page.button(t('person.code-for'), () => code(p, 'code'), { 'data-do': 'code' }),
        p.closed || !p.roles.includes('operator')
          ? null
          : page.button(t('person.pin-for'), () => code(p, 'pin'), { 'data-do': 'pin' }),
        page.button(t(p.closed ? 'open-it' : 'close-it'), () => close(p, !p.closed), {
          'data-do': 'close',
          'aria-label': t(p.closed ? 'person.open' : 'person.close', { name: p.name }),
        }),
      ),
    ),
});

frame('persons');
byId('add').append(page.button(t('person.add'), () => edit(), { class: 'main', id: 'add-person' }));
page.again();
