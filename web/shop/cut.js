// Cutting to lengths, and splitting: a drawn list of which metres go to which reel. The lot pays off from its outer
// end, so the first reel gets the metres wound on last. More than is left can't be put on the list.

import { el, put, svg } from '../dom.js';
import * as floor from './floor.js';
import * as lots from './lots.js';
import * as steps from './steps.js';
import * as where from './where.js';
import { asking, figure } from './ask.js';
import { asCode } from './codes.js';
import { labelLink } from './labels.js';
import { askMachine, keepRunCode, runCode } from './open.js';
import { read, show, t, term } from './say.js';

let shop = null;
let list =
  null; /* { lot, run, from, to (what is left, the outermost piece), pieces: [{lot, length_mm, scrap, reason}] } */

const used = () => list.pieces.reduce((sum, p) => sum + p.length_mm, 0);
const left = () => list.to - list.from - used();
const kindMade = () => shop.station.makes || 'bobbin';

/** "4 x 250" (four of 250), "250", several apart by "+" or ";": lengths in mm, or null. */
export function readPieces(text, readLength) {
  const out = [];
  for (const part of text.split(/[+;]/)) {
    const found = /^\s*(\d{1,3})\s*[x\u00d7*]\s*(.+)$/i.exec(part);
    const length = readLength((found ? found[2] : part).trim());
    if (length === null || length <= 0) return null;
    for (let i = 0; i < (found ? Number(found[1]) : 1); i += 1) out.push(length);
  }
  return out.length > 0 && out.length <= 200 ? out : null;
}

function nextLot() {
  const names = new Set(list.pieces.map((p) => p.lot));
  for (let i = 1; ; i += 1) {
    const code = `${list.run}-${String(i).padStart(2, '0')}`;
    if (!names.has(code)) return code;
  }
}

/** Why these lengths can't be cut, or null. */
function tooMuch(lengths) {
  const sum = lengths.reduce((a, b) => a + b, 0);
  return sum > left()
    ? t('cut.too-much', { asked: show(sum, 'length', true), left: show(left(), 'length', true) })
    : null;
}

/** Each piece with the metres of the lot that go to it, from the outer end. */
export function places(pieces, to) {
  let at = to;
  return pieces.map((p) => {
    at -= p.length_mm;
    return { ...p, from: at, to: at + p.length_mm };
  });
}

async function ask() {
  const first = list.pieces.length === 0;
  const got = await figure({
    title: first ? t('cut.lengths', { lot: list.lot.lot }) : t('cut.more', { left: show(left(), 'length') }),
    quantities: ['length'],
    optional: !first,
    empty: t('cut.enter'),
    pad: '\u00d7',
    go: t(first ? 'cut.add' : 'cut.add-or-cut'),
    about: picture(),
    reads: (text) => readPieces(text, (one) => read(one, 'length')),
    echo: (lengths) =>
      t('cut.echo', {
        n: lengths.length,
        sum: show(
          lengths.reduce((a, b) => a + b, 0),
          'length',
          true,
        ),
      }),
    check: tooMuch,
    extra: [{ label: t('cut.scrap-first'), value: 'scrap' }],
  });
  if (!got) return;
  if (got.value === 'scrap') {
    const end = await figure({
      title: t('scrap.title'),
      quantities: ['length'],
      echo: (v) => show(v, 'length', true),
      check: (v) => (v > 0 ? tooMuch([v]) : t('size.none')),
    });
    if (end) list.pieces.push({ length_mm: end.value, scrap: true, reason: t('scrap.end') });
  } else if (got.value === null) {
    await record();
    return;
  } else for (const length of got.value) list.pieces.push({ lot: nextLot(), length_mm: length });
  shop.draw();
  await ask();
}

async function record() {
  const { lot, run, pieces } = list;
  const from = list.to - used();
  const entry = steps.cut({
    run,
    process: shop.station.processes[0],
    machine: list.machine,
    lot,
    from_mm: from,
    to_mm: list.to,
    pieces,
    kind: kindMade(),
    diameter_um: lot.diameter_um,
    construction: lot.construction,
    order: list.order,
  });
  if (
    !(await shop.record(entry, t('did.cut', { lot: lot.lot, n: pieces.filter((p) => !p.scrap).length }), {
      unknown: list.unknown,
    }))
  ) {
    shop.draw();
    return;
  }
  keepRunCode(run);
  where.remember(
    'cut',
    pieces.filter((p) => p.lot).map((p) => p.lot),
  );
  list = null;
  shop.draw();
}

/** Begin a list for a lot. */
async function begun(lot, unknown, order = null) {
  const machine = where.machine() || (await askMachine(shop.station));
  if (!machine) return;
  const span = (lot.left || []).at(-1) || [0, lot.left_mm ?? lot.length_mm];
  list = {
    lot,
    machine,
    run: await runCode(machine),
    from: span[0],
    to: span[1],
    pieces: [],
    unknown,
    order: order?.order || null,
  };
  for (const p of order?.pieces || [])
    for (let i = 0; i < p.n && p.length_mm <= left(); i += 1)
      list.pieces.push({ lot: nextLot(), length_mm: p.length_mm });
  shop.draw();
  await ask();
}

let order = null;

export async function scanned(code) {
  if (floor.machinesOf(shop.station.processes).includes(code)) {
    where.setMachine(code);
    return shop.draw();
  }
  const { lot, unknown } = await lots.look(code);
  if (!lot) {
    const found = unknown ? null : (await lots.orders()).find((o) => o.order === code);
    if (found) {
      order = found;
      return shop.say(
        t('cut.order', { order: code, n: (found.pieces || []).reduce((sum, p) => sum + p.n, 0) }),
        'good',
      );
    }
    return shop.say(t(unknown ? 'cut.unknown-offline' : 'unknown', { code }), 'warn');
  }
  const bar = lots.bar(lot, t, ['cut']);
  if (bar) return shop.stop({ code, ...bar });
  if (!shop.station.takes.includes(lot.kind))
    return shop.stop({
      code,
      why: t('bar.wrong-kind', { kind: term('kind', lot.kind), station: t(`station.${shop.station.id}`) }),
    });
  const made = order;
  order = null;
  return begun(lot, unknown, made);
}

/** The lot drawn from its inner end (left) to its outer end, the pieces on it in the order in which they come off. */
function picture() {
  const length = list.lot.length_mm || list.to;
  const x = (mm) => (mm / length) * 1000;
  const at = places(list.pieces, list.to);
  return el(
    'figure',
    { class: 'cutting' },
    svg(
      'svg',
      {
        viewBox: '0 0 1000 64',
        preserveAspectRatio: 'none',
        role: 'img',
        'aria-label': t('cut.picture', { lot: list.lot.lot, left: show(left(), 'length') }),
      },
      svg('rect', { x: 0, y: 10, width: 1000, height: 44, class: 'rope-gone' }),
      svg('rect', { x: x(list.from), y: 10, width: x(list.to - list.from), height: 44, class: 'rope-left' }),
      at.map((p, i) =>
        svg('rect', {
          x: x(p.from) + 1,
          y: 4,
          width: Math.max(2, x(p.length_mm) - 2),
          height: 56,
          class: p.scrap ? 'piece piece-scrap' : `piece piece-${i % 2}`,
        }),
      ),
    ),
    el(
      'figcaption',
      null,
      el('span', null, t('cut.inner')),
      el('span', null, t('cut.left', { left: show(left(), 'length') })),
      el('span', null, t('cut.outer')),
    ),
  );
}

export function draw(place) {
  const cut = where.remembered('cut');
  const head = el('h2', null, where.machine() || t('machine.none'));
  if (!list) {
    put(
      place,
      el(
        'section',
        { class: 'run' },
        head,
        el('p', { class: 'next' }, el('span', { 'aria-hidden': 'true' }, '\u25b6 '), t('cut.first')),
        order
          ? el(
              'p',
              null,
              t('cut.order', { order: order.order, n: (order.pieces || []).reduce((sum, p) => sum + p.n, 0) }),
            )
          : null,
        el(
          'div',
          { class: 'run-steps' },
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
        cut ? el('h3', null, t('cut.last')) : null,
        cut
          ? el(
              'ul',
              { class: 'packages' },
              cut.map((c) => el('li', null, el('span', { class: 'code' }, c))),
            )
          : null,
        cut ? labelLink(cut) : null,
      ),
    );
    return;
  }
  put(
    place,
    el(
      'section',
      { class: 'run' },
      el(
        'div',
        { class: 'run-head' },
        el('h2', null, t('cut.title', { lot: list.lot.lot })),
        el(
          'p',
          null,
          [list.machine, list.run, term('kind', list.lot.kind), list.lot.construction].filter(Boolean).join(' \u00b7 '),
        ),
      ),
      picture(),
      el(
        'ol',
        { class: 'cuts' },
        places(list.pieces, list.to).map((p, i) =>
          el(
            'li',
            null,
            el('label', { class: 'visually-hidden', for: `cut-${i}` }, t('cut.code', { n: i + 1 })),
            p.scrap
              ? el('span', { class: 'piece-scrap-word' }, t('scrap.word'))
              : el('input', {
                  id: `cut-${i}`,
                  class: 'code-in',
                  value: p.lot,
                  maxlength: 40,
                  change: (event) => {
                    const code = asCode(event.target.value);
                    if (code) list.pieces[i].lot = code;
                    else event.target.value = list.pieces[i].lot;
                  },
                }),
            el('strong', null, show(p.length_mm, 'length', true)),
            el(
              'span',
              { class: 'soft' },
              t('cut.metres', { from: show(p.from, 'length', true), to: show(p.to, 'length', true) }),
            ),
            el(
              'button',
              {
                type: 'button',
                class: 'drop',
                'aria-label': t('list.drop', { lot: p.lot || t('scrap.word') }),
                click: () => {
                  list.pieces.splice(i, 1);
                  shop.draw();
                  if (!asking()) shop.ready();
                },
              },
              '\u2715',
            ),
          ),
        ),
      ),
      el(
        'div',
        { class: 'run-steps' },
        el(
          'button',
          { type: 'button', class: 'main', disabled: list.pieces.length === 0, click: () => shop.doing(record) },
          t('cut.go', { n: list.pieces.filter((p) => !p.scrap).length }),
        ),
        asking() ? null : el('button', { type: 'button', click: () => shop.doing(ask) }, t('cut.add')),
        el(
          'button',
          {
            type: 'button',
            click: () => {
              shop.cancel();
              list = null;
              shop.draw();
            },
          },
          t('cut.away'),
        ),
      ),
    ),
  );
}

/** A list for a lot scanned at another station (a coil or a bobbin to be shared out at the winder). */
export const split = (lot, unknown) => begun(lot, unknown);
export const busy = () => list !== null;

export function begin(given) {
  shop = given;
}
