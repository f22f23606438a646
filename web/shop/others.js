// What others made at this terminal and never came back to send. It never goes as another's by itself. Quality or an
// administrator, signed in here, may look at it; quality may send it as their own, each entry with a note that says who
// made it and when; both may keep it as a file and drop it, which a note in the ledger says too.

import { el, put } from '../dom.js';
import * as queue from '../queue.js';
import { leaves } from './leaves.js';
import * as where from './where.js';
import { quantityOf } from '../units.js';
import { show, t, term } from './say.js';

const nobody = () => t('others.nobody');
const maker = (row) => queue.ownerOf(row) || nobody();
const time = (row) => `${(row.at || new Date(row.made).toISOString()).slice(0, 16).replace('T', ' ')} UTC`;
const code = () => where.name() || 'WEB';

/* What an entry is about once it has been taken, as a note names it; what has no such name is said of the terminal. */
const ABOUT = {
  heat: (b) => `heat:${b.heat}`,
  supply: (b) => `supply:${b.supply}`,
  receive: (b) => `lot:${b.lot}`,
  batch: (b) => `batch:${b.batch}`,
  test: (b) => `test:${b.test}`,
  scrap: (b) => `lot:${b.lot}`,
  hold: (b) => `lot:${b.lots[0].lot || b.lots[0]}`,
  move: (b) => `lot:${b.lots[0].lot || b.lots[0]}`,
  dispatch: (b) => `consignment:${b.consignment}`,
  note: (b) => b.about,
};
for (const kind of ['run', 'open', 'load', 'doff', 'close']) ABOUT[kind] = (b) => `run:${b.run}`;

export const aboutOf = (row) => ABOUT[row.kind]?.(row.body) || `machine:${code()}`;

/** The statement that goes with one that was taken over. The ledger is read by others: in English wherever it is made. */
export const statement = (row, sender, reason) => ({
  about: aboutOf(row),
  text:
    `The entry with the key ${row.key} was made at terminal ${row.terminal || code()} by ` +
    `${queue.ownerOf(row) || 'nobody who was named'}${row.by ? '' : ' (unchecked)'} on ${time(row)} and left there unsent. ` +
    `${sender} sent it in their place: ${reason}`,
});

/** And with what was dropped. */
export const dropped = (rows, sender, reason) => ({
  about: `machine:${code()}`,
  text: [
    `${rows.length} entries that were made at terminal ${code()} and left there unsent were dropped by ${sender}: ${reason}`,
    ...rows.map((r) => `${r.kind} by ${queue.ownerOf(r) || 'nobody'}, ${time(r)}, ${aboutOf(r)}`),
  ]
    .join('\n')
    .slice(0, 2000),
});

/** As `kinwire load` takes them. */
const asFile = (rows) =>
  rows.map((r) => `${JSON.stringify({ key: r.key, kind: r.kind, ...(r.at ? { at: r.at } : {}), body: r.body })}\n`).join('');

const value = (path, it) => {
  const quantity = typeof it === 'number' ? quantityOf(path.at(-1)) : null;
  return quantity ? show(it, quantity, true) : String(it);
};

function details(row) {
  return el(
    'details',
    null,
    el('summary', null, `${row.say?.text || term('entry', row.kind)} \u00b7 ${maker(row)} \u00b7 ${time(row)}`),
    el(
      'dl',
      { class: 'facts' },
      leaves(row.body).map(([path, it]) =>
        el(
          'div',
          null,
          el('dt', null, path.map((p) => (/^\d+$/.test(p) ? String(Number(p) + 1) : term('field', p))).join(' ')),
          el('dd', null, value(path, it)),
        ),
      ),
    ),
  );
}

let serial = 0;

function reasoned(rows, go, cls, done, over) {
  const input = el('input', { id: `others-why-${(serial += 1)}`, maxlength: 500, 'aria-required': 'true' });
  const wrong = el('span', { class: 'wrong', id: `${input.id}-wrong` });
  return el(
    'form',
    {
      class: 'right',
      novalidate: true,
      submit: async (event) => {
        event.preventDefault();
        const reason = input.value.trim();
        if (!reason) {
          wrong.textContent = t('wrong.needed');
          input.setAttribute('aria-invalid', 'true');
          input.focus();
          return;
        }
        await done(rows, reason);
        over();
      },
    },
    el('div', { class: 'field' }, el('label', { for: input.id }, t('others.why')), input, wrong),
    el(
      'div',
      { class: 'ask-go' },
      el('button', { type: 'submit', class: cls }, go),
      el('button', { type: 'button', click: over }, t('cancel')),
    ),
  );
}

function decide(rows) {
  const place = el('div');
  const { who } = queue;
  const buttons = el('div', { class: 'ask-go' });
  const over = () => {
    put(place);
    buttons.hidden = false;
  };
  const open = (go, cls, done) => () => {
    buttons.hidden = true;
    put(place, reasoned(rows, go, cls, done, over));
    place.querySelector('input').focus();
  };
  const sender = () => `${who.name || who.by} (${who.by})`;
  const file = new Blob([asFile(rows)], { type: 'application/x-ndjson' });
  put(
    buttons,
    who.roles?.includes('quality')
      ? el(
          'button',
          {
            type: 'button',
            class: 'main',
            id: 'others-send',
            click: open(t('others.send', { n: rows.length }), 'main', (all, why) =>
              queue.takeOver(all, (row) => statement(row, sender(), why)),
            ),
          },
          t('others.send', { n: rows.length }),
        )
      : null,
    el('a', { class: 'button', href: URL.createObjectURL(file), download: `${code()}.ndjson` }, t('others.save')),
    el(
      'button',
      {
        type: 'button',
        id: 'others-drop',
        click: open(t('others.drop', { n: rows.length }), 'stop', (all, why) =>
          queue.discard(all, why, dropped(all, sender(), why)),
        ),
      },
      t('others.drop', { n: rows.length }),
    ),
  );
  return [el('p', null, t('others.may')), buttons, place];
}

/** What waits for others, and what whoever is signed in may do about it. */
export function drawOthers(rows) {
  const may = queue.who.roles?.some((r) => r === 'quality' || r === 'administrator') && queue.who.sends;
  return el(
    'section',
    { class: 'others', 'data-key': rows.map((r) => r.key).join(), 'aria-labelledby': 'others-title' },
    el('h2', { id: 'others-title' }, t('others.title')),
    may ? rows.slice(0, 200).map(details) : null,
    may ? decide(rows) : el('p', { class: 'quiet' }, t('others.ask')),
  );
}
