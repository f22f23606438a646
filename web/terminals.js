// Terminals of the shop floor: where each stands, and the one-time code by which a device becomes one.

import { byId, el } from './dom.js';
import * as api from './api.js';
import { frame } from './frame.js';
import { list, member, record, showOnce, state } from './roll.js';
import { t } from './words.js';

function edit(row = null) {
  const terminal = member('terminal', 't-code', t('terminal.code'), {
    class: 'code-in',
    maxlength: 40,
    value: row?.terminal,
    readonly: Boolean(row),
  });
  const where = member('where', 't-where', t('terminal.where'), { maxlength: 200, value: row?.where });
  return record({
    title: row ? t('terminal.change', { terminal: row.terminal }) : t('terminal.add'),
    kind: 'terminal',
    fields: [terminal, where],
    body: () => ({ terminal: terminal.input.value.trim().toUpperCase(), where: where.input.value.trim() }),
    go: t('record'),
  });
}

const close = (row, closed) =>
  record({
    title: t(closed ? 'terminal.close' : 'terminal.open', { terminal: row.terminal }),
    about: closed ? t('terminal.close.what') : null,
    kind: 'terminal',
    fields: [],
    body: () => ({ terminal: row.terminal, where: row.where, ...(closed ? { closed: true } : {}) }),
    go: t(closed ? 'close-it' : 'open-it'),
  });

async function code(row) {
  const got = await api.order(`/api/terminals/${encodeURIComponent(row.terminal)}/code`);
  showOnce({
    title: t('terminal.enrol', { terminal: row.terminal }),
    about: t('terminal.enrol.what'),
    secret: got.code,
    expires: got.expires,
  });
}

const page = list(byId('list'), {
  read: async () => (await api.get('/api/terminals')).terminals,
  empty: t('terminal.none'),
  draw: (row) =>
    el(
      'li',
      { class: row.closed ? 'closed' : null, 'data-code': row.terminal },
      el(
        'div',
        { class: 'roll-head' },
        el('strong', { class: 'code' }, row.terminal),
        el('span', null, row.where),
        row.closed
          ? state(false, t('closed'))
          : state(row.enrolled, t(row.enrolled ? 'terminal.enrolled' : 'terminal.not-enrolled')),
      ),
      el(
        'div',
        { class: 'actions' },
        page.button(t('change'), () => edit(row), { 'aria-label': t('terminal.change', { terminal: row.terminal }) }),
        row.closed ? null : page.button(t('terminal.code-for'), () => code(row), { 'data-do': 'code' }),
        page.button(t(row.closed ? 'open-it' : 'close-it'), () => close(row, !row.closed), {
          'aria-label': t(row.closed ? 'terminal.open' : 'terminal.close', { terminal: row.terminal }),
        }),
      ),
    ),
});

frame('terminals');
byId('add').append(page.button(t('terminal.add'), () => edit(), { class: 'main', id: 'add-terminal' }));
page.again();
