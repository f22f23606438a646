// Stations whose machines run: what is loaded on which line, how far along, what comes next; and the steps of a run.

import { byId, el, put } from '../dom.js';
import * as cut from './cut.js';
import * as floor from './floor.js';
import * as lots from './lots.js';
import * as measure from '../units.js';
import * as steps from './steps.js';
import * as where from './where.js';
import { choose, figure, form } from './ask.js';
import { card, freeLine } from './card.js';
import { nextPackage } from './codes.js';
import { askMachine, offerRun, openRun } from './open.js';
import { leftOver, runningOut } from './project.js';
import { show, t, term } from './say.js';

let shop = null;

/** The machine in front of the terminal. */
const { machine } = where;

const current = () => (machine() ? floor.runOn(machine()) : null);
const solid = () => ['diameter', 'same'].includes(shop.station.ratio) && shop.station.id !== 'finishing';

/** Diameter of what comes off: as set, else (nothing is drawn) as it went in. */
function outDiameter(run) {
  if (run.out_um) return run.out_um;
  return shop.station.ratio === 'diameter' && run.process === 'draw'
    ? null
    : run.lines.flatMap((l) => l.feeds).at(-1)?.diameter_um || null;
}

const kindMade = (run) => shop.station.makes || run.lines.flatMap((l) => l.feeds).at(-1)?.kind || 'bobbin';
const order = (run) => runningOut(run, shop.station.ratio, run);

/* --- steps -------------------------------------------------------------------------------------- */

/**
 * Which line changes, and where: the one that runs out next is proposed, another is a tap away; then the counter
 * reading.
 */
async function askChange(run, lot) {
  const nextOut = order(run)[0];
  let line = run.lines.find((l) => l.line === nextOut.line);
  let other = false;
  for (;;) {
    const rest = order(run).find((o) => o.line === line.line)?.rest;
    const tiles =
      run.lines.length === 1
        ? null
        : el(
            'div',
            { class: 'tiles', role: 'group', 'aria-label': t('change.lines') },
            run.lines.map((l) =>
              el(
                'button',
                {
                  type: 'button',
                  class: 'tile',
                  'aria-pressed': String(l === line),
                  click: () => {
                    line = l;
                    other = true;
                    shop.cancel();
                  },
                },
                l.line,
              ),
            ),
          );
    const got = await figure({
      title: t('change.at', { lot, line: line.line }),
      quantities: ['length'],
      optional: true,
      about: [
        el(
          'p',
          null,
          t('change.what', { line: line.line, old: line.feeds.at(-1)?.lot || '', made: show(run.length_mm, 'length') }),
          rest !== null && rest !== undefined && rest >= 0
            ? ` ${t('change.rest', { rest: show(rest, 'length') })}`
            : '',
        ),
        tiles,
      ],
      echo: (v) => t('change.echo', { at: show(v, 'length', true) }),
      check(value) {
        const before = Math.max(0, ...line.feeds.map((f) => f.seen_at_mm || 0));
        return value <= before && before > 0 ? t('change.before', { at: show(before, 'length') }) : null;
      },
    });
    if (got) return { line: line.line, seen: got.value };
    if (!other) return null;
    other = false;
  }
}

async function load(run, lot, unknown) {
  const about = lots.summary(lot);
  const free = freeLine(run);
  let line = free?.line;
  let seen = null;
  if (!free) {
    const change = await askChange(run, lot.lot);
    if (!change) return;
    line = change.line;
    seen = change.seen;
  }
  const entry = steps.load({
    run: run.run,
    line,
    lot: lot.lot,
    behind: !free,
    join: shop.station.join,
    seen_at_mm: seen,
    about,
  });
  const text = free
    ? t('did.load', { lot: lot.lot, line })
    : seen === null
      ? t('did.change-unseen', { lot: lot.lot, line })
      : t('did.change', { lot: lot.lot, line, at: show(seen, 'length') });
  await shop.record(entry, text, { unknown });
}

/** Length or mass of a package, one from the other by the diameter. */
function askSize(run, title, { initial = null, about = null, extra = [] } = {}) {
  const diameter = outDiameter(run);
  const both = solid() && diameter;
  return figure({
    title,
    quantities: both ? ['length', 'mass'] : ['length'],
    initial,
    about,
    extra,
    echo: (value, q) =>
      q === 'mass'
        ? t('size.mass', {
            mass: show(value, 'mass', true),
            length: show(measure.lengthOf(value, diameter), 'length'),
            diameter: show(diameter, 'diameter'),
          })
        : both
          ? t('size.length', {
              length: show(value, 'length', true),
              mass: show(measure.massOf(value, diameter), 'mass'),
              diameter: show(diameter, 'diameter'),
            })
          : show(value, 'length', true),
    check: (value) => (value > 0 ? null : t('size.none')),
  });
}

async function doff(run, code = null) {
  const taken = new Set([...run.packages.map((p) => p.lot), ...floor.made().keys()]);
  const lot = code || nextPackage(run.run, (c) => taken.has(c));
  const diameter = outDiameter(run);
  const last = run.packages.filter((p) => p.lot).at(-1);
  const got = await askSize(run, t(solid() && diameter ? 'doff.title' : 'doff.title-length', { lot }), {
    about: el('p', null, t('doff.what', { kind: term('kind', kindMade(run)), made: show(run.length_mm, 'length') })),
    extra: last ? [{ label: t('doff.same', { length: show(last.length_mm, 'length') }), value: last.length_mm }] : [],
  });
  if (!got) return;
  const mass = got.quantity === 'mass' && !got.extra ? got.value : null;
  const length = mass === null ? got.value : measure.lengthOf(mass, diameter);
  await shop.record(
    steps.doff({ run: run.run, lot, kind: kindMade(run), length_mm: length, mass_g: mass, diameter_um: diameter }),
    t('did.doff', { lot, length: show(length, 'length') }),
  );
}

const SCRAP = ['scrap.break', 'scrap.start', 'scrap.size', 'scrap.surface', 'scrap.end'];

async function scrap(run) {
  let reason = t(SCRAP[0]);
  const pick = el(
    'div',
    { class: 'pick', role: 'group', 'aria-label': t('field.reason') },
    SCRAP.map((key, i) =>
      el(
        'button',
        {
          type: 'button',
          'aria-pressed': String(i === 0),
          click: (event) => {
            reason = t(key);
            for (const b of pick.children) b.setAttribute('aria-pressed', String(b === event.currentTarget));
            byId('scan').focus();
          },
        },
        t(key),
      ),
    ),
  );
  const got = await askSize(run, t('scrap.title'), { about: pick });
  if (!got) return;
  const length = got.quantity === 'mass' ? measure.lengthOf(got.value, outDiameter(run)) : got.value;
  await shop.record(
    steps.scrap({ run: run.run, scrap_mm: length, reason }),
    t('did.scrap', { length: show(length, 'length'), reason }),
  );
}

async function close(run) {
  const loaded = run.lines.filter((l) => l.feeds.length > 0);
  const about = el('p', null, t('close.what', { run: run.run, made: show(run.length_mm, 'length') }));
  const reckoned = leftOver(run, shop.station.ratio, run);
  const some = [...reckoned.values()].some((mm) => mm > 0);
  let left;
  if (loaded.length === 1) {
    const mm = reckoned.get(loaded[0].line);
    const got = await figure({
      title: t('close.left', { lot: loaded[0].feeds.at(-1).lot }),
      about,
      quantities: ['length'],
      initial: 0,
      echo: (v) => show(v, 'length', true),
      go: t('close.go'),
      extra: some ? [{ label: t('close.reckoned', { left: show(mm, 'length') }), value: mm }] : [],
    });
    if (!got) return;
    left = [{ line: loaded[0].line, left_mm: got.value }];
  } else {
    const got = await form({
      title: t('close.title', { run: run.run }),
      about,
      go: t('close.go'),
      fill: some ? { label: t('close.fill'), values: Object.fromEntries(reckoned) } : null,
      fields: loaded.map((l) => ({
        name: l.line,
        label: t('close.line', { line: l.line, lot: l.feeds.at(-1).lot }),
        quantity: 'length',
        value: 0,
        plain: true,
      })),
    });
    if (!got) return;
    left = loaded.map((l) => ({ line: l.line, left_mm: got[l.line] || 0 }));
  }
  await shop.record(steps.close({ run: run.run, left }), t('did.close', { run: run.run }));
}

async function start(given = null) {
  const on = machine() || (await askMachine(shop.station));
  if (!on) return null;
  if (floor.runOn(on)) return floor.runOn(on);
  await openRun(shop, on, given);
  return floor.runOn(on);
}

/* --- a scan ------------------------------------------------------------------------------------- */

async function onLot(lot, unknown) {
  const at = floor.loadedAt(lot.lot);
  if (at)
    return shop.stop({
      code: lot.lot,
      why: t('bar.loaded'),
      detail: t('bar.loaded-at', { run: at.run.run, machine: at.run.machine, line: at.line.line }),
    });
  if (lot.kind && !shop.station.takes.includes(lot.kind))
    return shop.stop({
      code: lot.lot,
      why: t('bar.wrong-kind', { kind: term('kind', lot.kind), station: t(`station.${shop.station.id}`) }),
    });
  let run = current();
  if (!run) {
    const on = machine() || (await askMachine(shop.station));
    if (!on) return undefined;
    if (!floor.runOn(on)) {
      const meant = await offerRun(on, lot.lot, shop.station.split);
      if (meant === 'split') return cut.split(lot, unknown);
      if (!meant) return undefined;
    }
    run = await start();
    if (!run) return undefined;
  }
  return load(run, lot, unknown);
}

/** Whether a code looks like the labels that this run's packages have: the same but for its last digits. */
function likeMade(run, code) {
  const stem = (text) => text.replace(/\d+$/, '');
  return run.packages.some((p) => p.lot && stem(p.lot) === stem(code));
}

export async function scanned(code) {
  const machines = floor.machinesOf(shop.station.processes);
  const run = floor.runs().find((r) => r.run === code && shop.station.processes.includes(r.process));
  if (machines.includes(code) || run) {
    where.setMachine(run ? run.machine : code);
    shop.say(t('machine.now', { machine: where.machine() }));
    return shop.draw();
  }
  const { lot, unknown } = await lots.look(code);
  if (lot) {
    const bar = lots.bar(lot, t, shop.station.processes);
    return bar ? shop.stop({ code, ...bar, why: bar.why }) : onLot(lot);
  }
  if (!unknown) {
    const found = (await lots.orders()).find((o) => o.order === code);
    if (found) return start(found);
    if (current()) return doff(current(), code);
    return shop.say(t('unknown', { code }), 'warn');
  }
  if (!current()) return shop.say(t('unknown.offline', { code }), 'warn');
  const load1 = { value: 'load', label: t('unknown.load') };
  const doff1 = { value: 'doff', label: t('unknown.doff') };
  const meant = await choose({
    title: t('unknown.offline', { code }),
    about: t('unknown.which'),
    options: likeMade(current(), code) ? [doff1, load1] : [load1, doff1],
  });
  if (meant === 'load') return load(current(), { lot: code, kind: null, length_mm: null, left_mm: null }, true);
  return meant === 'doff' ? doff(current(), code) : undefined;
}

/* --- drawing ------------------------------------------------------------------------------------ */

/** The machines of the station: a tap is the machine in front. */
function machines() {
  const known = floor.machinesOf(shop.station.processes);
  const now = machine();
  return el(
    'div',
    { class: 'machines', role: 'group', 'aria-label': t('machines') },
    [...new Set([...known, ...(now ? [now] : [])])].map((m) => {
      const run = floor.runOn(m);
      return el(
        'button',
        {
          type: 'button',
          'aria-pressed': String(m === now),
          click: () => {
            where.setMachine(m);
            shop.draw();
            shop.ready();
          },
        },
        el('strong', null, m),
        el('small', null, run ? `${run.run} \u00b7 ${show(run.length_mm, 'length')}` : t('machine.idle')),
      );
    }),
    el(
      'button',
      {
        type: 'button',
        class: 'other',
        click: () =>
          shop.doing(async () => {
            await askMachine(shop.station);
            shop.draw();
          }),
      },
      t(known.length > 0 || now ? 'machine.other' : 'machine.choose'),
    ),
  );
}

export function draw(place) {
  if (cut.busy()) {
    cut.draw(place);
    return;
  }
  const run = current();
  put(
    place,
    machines(),
    run
      ? card(
          run,
          {
            rests: order(run),
            ratio: shop.station.ratio,
            kind: kindMade(run),
            buttons: [
              [t('step.doff'), () => doff(current()), 'main'],
              [t('step.scrap'), () => scrap(current())],
              [t('step.close'), () => close(current())],
            ],
          },
          shop.doing,
        )
      : el(
          'section',
          { class: 'run idle' },
          el('h2', null, machine() || t('machine.none')),
          el('p', { class: 'next' }, t('next.open')),
          el(
            'div',
            { class: 'run-steps' },
            el(
              'button',
              { type: 'button', class: 'main', id: 'start', click: () => shop.doing(() => start()) },
              t('step.open'),
            ),
          ),
        ),
  );
}

export function begin(given) {
  shop = given;
  cut.begin(given);
}
