// Stores and dispatch: scan one lot or many, then say where they go.

import { el, put } from '../dom.js';
import * as lots from './lots.js';
import * as where from './where.js';
import { form } from './ask.js';
import { labelLink } from './labels.js';
import { show, t, term } from './say.js';

let shop = null;
const list = () => where.remembered('stores') || [];
const keep = (now) => where.remember('stores', now);

export async function scanned(code) {
  if (list().some((l) => l.lot === code)) return shop.say(t('list.twice', { lot: code }), 'warn');
  const { lot, unknown } = await lots.look(code);
  if (!lot && !unknown) return shop.say(t('unknown', { code }), 'warn');
  const bar = lot ? lots.bar(lot, t, []) : null;
  if (bar) await shop.stop({ code, ...bar });
  if (bar && !bar.held) return undefined;
  keep([...list(), lot ? { ...lots.summary(lot), location: lot.location || null, held: Boolean(bar) } : { lot: code }]);
  shop.say(t('list.added', { lot: code, n: list().length }), unknown || bar ? 'warn' : 'good');
  return shop.draw();
}

async function move() {
  const got = await form({
    title: t('stores.move', { n: list().length }),
    go: t('stores.move-go'),
    fields: [{ name: 'location', label: t('field.location'), need: true, value: '' }],
  });
  if (!got) return;
  const body = { lots: list().map((l) => l.lot), location: got.location };
  if (await shop.record({ kind: 'move', body }, t('did.move', { n: body.lots.length, location: got.location })))
    clear();
}

async function dispatch() {
  const held = list().find((l) => l.held);
  if (held) {
    await shop.stop({ code: held.lot, why: t('bar.on-hold'), detail: t('stores.held') });
    return;
  }
  const got = await form({
    title: t('stores.dispatch', { n: list().length }),
    about: el('p', { class: 'caution' }, t('caution.dispatch')),
    go: t('stores.dispatch-go'),
    fields: [
      { name: 'consignment', label: t('field.consignment'), code: true, need: true },
      { name: 'consignee', label: t('field.consignee'), need: true, value: where.remembered('consignee') || '' },
    ],
  });
  if (!got) return;
  const body = { consignment: got.consignment, consignee: got.consignee, lots: list().map((l) => l.lot) };
  if (
    !(await shop.record(
      { kind: 'dispatch', body, thread: `consignment:${got.consignment}` },
      t('did.dispatch', { n: body.lots.length, consignee: got.consignee }),
    ))
  )
    return;
  where.remember('consignee', got.consignee);
  clear();
}

function clear() {
  keep([]);
  shop.draw();
}

export function draw(place) {
  const now = list();
  const empty = now.length === 0;
  put(
    place,
    el(
      'section',
      { class: 'run' },
      el('h2', null, t('stores.list', { n: now.length })),
      el(
        'p',
        { class: 'next' },
        el('span', { 'aria-hidden': 'true' }, '\u25b6 '),
        t(empty ? 'stores.first' : 'stores.more'),
      ),
      el(
        'div',
        { class: 'run-steps' },
        el(
          'button',
          { type: 'button', class: 'main', disabled: empty, click: () => shop.doing(move) },
          t('stores.move-to'),
        ),
        el('button', { type: 'button', disabled: empty, click: () => shop.doing(dispatch) }, t('stores.send')),
        el(
          'button',
          {
            type: 'button',
            disabled: empty,
            click: () => {
              clear();
              shop.ready();
            },
          },
          t('list.clear'),
        ),
      ),
      empty
        ? null
        : el(
            'ul',
            { class: 'packages' },
            now.map((l) =>
              el(
                'li',
                { class: l.held ? 'held' : null },
                el('span', { class: 'code' }, l.lot),
                ' ',
                l.kind ? term('kind', l.kind) : '',
                ' ',
                l.left_mm ? show(l.left_mm, 'length') : '',
                ' ',
                l.location || '',
                l.held ? el('strong', null, ` ${t('stores.held-word')}`) : null,
                el(
                  'button',
                  {
                    type: 'button',
                    class: 'drop',
                    'aria-label': t('list.drop', { lot: l.lot }),
                    click: () => {
                      keep(list().filter((x) => x.lot !== l.lot));
                      shop.draw();
                      shop.ready();
                    },
                  },
                  '\u2715',
                ),
              ),
            ),
          ),
      empty ? null : labelLink(now.map((l) => l.lot)),
    ),
  );
}

export function begin(given) {
  shop = given;
}
