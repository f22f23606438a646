// Beginning a run: machine, what it is made for, and the one figure that its length is reckoned from. Remembered for
// the next run of the machine, so that the next time it is one confirmation.

import * as floor from './floor.js';
import { choose, form } from './ask.js';
import { asCode, nextDaily } from './codes.js';
import * as steps from './steps.js';
import { linesOf } from './stations.js';
import { ask } from './server.js';
import * as where from './where.js';
import { show, t, term } from './say.js';

/**
 * Codes that there are already, as far as is known: of the floor, of what was made here, and of the server when it
 * answers.
 */
async function takenCodes(stem) {
  const taken = new Set(where.remembered('runs') || []);
  for (const run of floor.runs()) taken.add(run.run);
  try {
    for (const f of (await ask('/api/find', { q: stem })).body.found || []) if (f.type === 'run') taken.add(f.code);
  } catch {
    /* Without the server: those of this terminal. */
  }
  return taken;
}

/** The next code of a run of a machine; kept as used from now on. */
export async function runCode(machine) {
  const stem = nextDaily(machine, new Date(), () => false).slice(0, -1);
  const taken = await takenCodes(stem);
  return nextDaily(machine, new Date(), (code) => taken.has(code));
}

export function keepRunCode(code) {
  where.remember('runs', [...(where.remembered('runs') || []).slice(-50), code]);
}

/** Ask for a machine's code: those known are one tap. */
export async function askMachine(station) {
  const known = floor.machinesOf(station.processes);
  const code = await choose({
    title: t('machine.which'),
    about: null,
    first: false,
    options: known.map((m) => ({ value: m, label: m })),
    typed: asCode,
    label: t('machine.type'),
  });
  if (code) where.setMachine(code);
  return code;
}

/** Begin a run on a machine, made for `order` if one was scanned. Returns the run's code, or null. */
export async function openRun(shop, machine, order = null) {
  const { station } = shop;
  const last = where.remembered(`open.${machine}`) || {};
  const process = order?.process || last.process || station.processes[0];
  const code = await runCode(machine);
  const fields = [{ name: 'run', label: t('field.run'), code: true, need: true, value: code }];
  if (station.processes.length > 1)
    fields.push({
      name: 'process',
      label: t('field.process'),
      options: station.processes.map((p) => ({ value: p, label: term('process', p) })),
      value: process,
    });
  if (station.counts.length > 0) {
    fields.push({
      name: 'lines',
      label: t('open.lines'),
      whole: true,
      need: true,
      value: last.count || station.lines.filter((l) => l !== 'CORE').length,
    });
    if (station.core)
      fields.push({
        name: 'core',
        label: t('open.core'),
        options: [
          { value: 'yes', label: t('yes') },
          { value: 'no', label: t('no') },
        ],
        value: last.core || (station.lines.includes('CORE') ? 'yes' : 'no'),
      });
  }
  if (station.ratio !== 'same')
    fields.push({
      name: 'out_um',
      label: t(`open.out.${station.ratio}`),
      quantity: 'diameter',
      value: order?.diameter_um || last.out_um || null,
      first: true,
    });
  if (station.ratio === 'lay')
    fields.push({ name: 'lay_um', label: t('field.lay_um'), quantity: 'diameter', value: last.lay_um || null });
  fields.push({ name: 'order', label: t('field.order'), code: true, value: order?.order || null });
  const about = order
    ? t('open.for', {
        order: order.order,
        what: [order.grade, order.diameter_um ? show(order.diameter_um, 'diameter') : null, order.construction]
          .filter(Boolean)
          .join(', '),
      })
    : null;
  const got = await form({ title: t('open.title', { machine }), about, fields, go: t('open.go') });
  if (!got) return null;
  const count = got.lines || station.lines.length;
  const lines = station.counts.length > 0 ? linesOf(count, got.core === 'yes') : station.lines;
  const settings =
    station.ratio === 'lay' ? { diameter_um: got.out_um, lay_um: got.lay_um } : { finish_die_um: got.out_um };
  const entry = steps.open({
    run: got.run,
    process: got.process || process,
    machine,
    lines,
    order: got.order,
    settings,
  });
  if (!(await shop.record(entry, t('did.open', { run: got.run, machine })))) return null;
  keepRunCode(got.run);
  where.remember(`open.${machine}`, {
    process: got.process || process,
    count: got.lines,
    core: got.core,
    out_um: got.out_um,
    lay_um: got.lay_um,
  });
  return got.run;
}

/**
 * Ask whether to begin a run now, since something was scanned that belongs on one; or, where that is done, to share the
 * lot out.
 */
export const offerRun = (machine, lot, split) =>
  choose({
    title: t('open.offer', { machine }),
    about: t('open.offer.what', { lot }),
    options: [{ value: 'open', label: t('open.go') }, ...(split ? [{ value: 'split', label: t('open.split') }] : [])],
  });
