// Tokens: what machines and programs sign in with, each for one purpose.

import { byId, el } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame } from './frame.js';
import { list, member, record, select, showOnce, state } from './roll.js';
import { t, term } from './words.js';

const ROLES = ['operator', 'quality', 'auditor', 'administrator'];
const PURPOSES = ['instrument', 'machine', 'kind', 'metrics', 'ledger', 'any'];
const code = (input) => input.value.trim().toUpperCase();

/** {what, of} of the form as the entry's `only`; none for whatever the role may. */
function onlyOf(what, of) {
  if (what === 'any') return {};
  if (what === 'metrics' || what === 'ledger') return { only: { read: what } };
  if (what === 'kind') return { only: { kind: of.trim().toLowerCase() } };
  return { only: { [what]: of.trim().toUpperCase() } };
}

function purpose(only) {
  if (!only) return t('token.any');
  const named = (k) => (k === 'kind' ? term('entry', only[k]) : only[k]);
  const said = ['instrument', 'machine', 'kind'].filter((k) => only[k]).map((k) => t(`token.only.${k}`, { of: named(k) }));
  if (only.read) said.push(t(`token.only.${only.read}`));
  return said.join(', ');
}

const plain = (only) => Object.fromEntries(Object.entries(only).filter(([, value]) => value));

function make() {
  const name = member('token', 'k-code', t('token.code'), { class: 'code-in', maxlength: 40 }, t('token.code.hint'));
  const roles = ROLES.map((r) => [r, t(`role.${r}`)]);
  const purposes = PURPOSES.map((p) => [p, t(`token.purpose.${p}`)]);
  const role = { ...select('k-role', t('token.role'), roles, 'operator'), member: 'role' };
  const what = { ...select('k-what', t('token.purpose'), purposes, 'instrument'), member: 'only' };
  const of = member('only', 'k-of', t('token.of'), { maxlength: 40 }, t('token.of.hint'));
  const until = member('expires', 'k-until', t('token.until'), { type: 'date' }, t('token.until.hint'));
  const fit = () => {
    of.node.hidden = !['instrument', 'machine', 'kind'].includes(what.input.value);
  };
  what.input.addEventListener('change', fit);
  fit();
  return record({
    title: t('token.add'),
    about: t('token.add.what'),
    kind: 'token',
    fields: [name, role, what, of, until],
    body: () => ({
      token: code(name.input),
      role: role.input.value,
      ...onlyOf(what.input.value, of.input.value),
      ...(until.input.value ? { expires: `${until.input.value}T23:59:59Z` } : {}),
    }),
    go: t('record'),
  });
}

async function give(row) {
  const got = await api.order(`/api/tokens/${encodeURIComponent(row)}/secret`);
  showOnce({ title: t('token.secret', { token: row }), about: t('token.secret.what'), secret: got.secret });
}

const close = (row) =>
  record({
    title: t('token.close', { token: row.token }),
    about: t('token.close.what'),
    kind: 'token',
    fields: [],
    body: () => ({
      token: row.token,
      role: row.role,
      ...(row.only ? { only: plain(row.only) } : {}),
      ...(row.expires ? { expires: row.expires } : {}),
      closed: true,
    }),
    go: t('close-it'),
  });

const page = list(byId('list'), {
  read: async () => (await api.get('/api/tokens')).tokens,
  empty: t('token.none'),
  draw: (row) =>
    el(
      'li',
      { class: row.closed ? 'closed' : null, 'data-code': row.token },
      el(
        'div',
        { class: 'roll-head' },
        el('strong', { class: 'code' }, row.token),
        el('span', null, term('role', row.role)),
        row.closed ? state(false, t('closed')) : state(row.given, t(row.given ? 'token.given' : 'token.not-given')),
      ),
      el(
        'p',
        null,
        purpose(row.only),
        row.expires ? ` \u00b7 ${t('token.expires', { at: fmt.stamp(row.expires) })}` : '',
      ),
      row.closed
        ? null
        : el(
            'div',
            { class: 'actions' },
            page.button(t(row.given ? 'token.give-again' : 'token.give'), () => give(row.token), {
              'data-do': 'secret',
            }),
            page.button(t('close-it'), () => close(row), { 'aria-label': t('token.close', { token: row.token }) }),
          ),
    ),
});

frame('tokens');
byId('add').append(
  page.button(
    t('token.add'),
    async () => {
      const receipt = await make();
      if (receipt) await give(receipt.body.token);
    },
    { class: 'main', id: 'add-token' },
  ),
);
page.again();
