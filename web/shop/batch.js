// Cleaning: lots treated together. Each is scanned into the batch; one confirmation records it.

import { el, put } from '../dom.js';
import * as floor from './floor.js';
import * as lots from './lots.js';
import * as where from './where.js';
import { form } from './ask.js';
import { askMachine, keepRunCode, runCode } from './open.js';
import { show, t, term } from './say.js';

let shop = null;
const list = () => where.remembered('batch') || [];
const keep = (lotsNow) => where.remember('batch', lotsNow);

const { machine } = where;

export async function scanned(code) {
  if (floor.machinesOf(shop.station.processes).includes(code)) {
    where.setMachine(code);
    return shop.draw();
  }
  if (list().some((l) => l.lot === code)) return shop.say(t('list.twice', { lot: code }), 'warn');
  const { lot, unknown } = await lots.look(code);
  if (!lot && !unknown) return shop.say(t('unknown', { code }), 'warn');
  if (lot) {
    const bar = lots.bar(lot, t, shop.station.processes);
    if (bar) return shop.stop({ code, ...bar });
    if (!shop.station.takes.includes(lot.kind))
      return shop.stop({
        code,
        why: t('bar.wrong-kind', { kind: term('kind', lot.kind), station: t(`station.${shop.station.id}`) }),
      });
  }
  keep([...list(), lot ? lots.summary(lot) : { lot: code }]);
  shop.say(t('list.added', { lot: code, n: list().length }), unknown ? 'warn' : 'good');
  return shop.draw();
}

async function record() {
  if (list().length === 0) return;
  const on = machine() || (await askMachine(shop.station));
  if (!on) return;
  const got = await form({
    title: t('batch.title', { n: list().length, machine: on }),
    go: t('batch.go'),
    fields: [{ name: 'batch', label: t('field.batch'), code: true, need: true, value: await runCode(on) }],
  });
  if (!got) return;
  const body = {
    batch: got.batch,
    process: shop.station.processes[0],
    machine: on,
    lots: list().map(({ lot }) => ({ lot })),
  };
  if (
    !(await shop.record(
      { kind: 'batch', body, thread: `batch:${got.batch}` },
      t('did.batch', { batch: got.batch, n: body.lots.length }),
    ))
  )
    return;
  keepRunCode(got.batch);
  keep([]);
  shop.draw();
}

export function draw(place) {
  const now = list();
  put(
    place,
    el(
      'section',
      { class: 'run' },
      el('h2', null, machine() || t('machine.none')),
      el(
        'p',
        { class: 'next' },
        el('span', { 'aria-hidden': 'true' }, '\u25b6 '),
        t(now.length > 0 ? 'batch.more' : 'batch.first'),
      ),
      el(
        'div',
        { class: 'run-steps' },
        el(
          'button',
          { type: 'button', class: 'main', disabled: now.length === 0, click: () => shop.doing(record) },
          t('batch.record', { n: now.length }),
        ),
        el(
          'button',
          {
            type: 'button',
            click: () =>
              shop.doing(async () => {
                await askMachine(shop.station);
                shop.draw();
              }),
          },
          t('machine.other'),
        ),
      ),
      now.length > 0
        ? el(
            'ul',
            { class: 'packages' },
            now.map((l) =>
              el(
                'li',
                null,
                el('span', { class: 'code' }, l.lot),
                ' ',
                l.left_mm ? show(l.left_mm, 'length') : '',
                ' ',
                l.grade || '',
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
          )
        : null,
    ),
  );
}

export function begin(given) {
  shop = given;
}
