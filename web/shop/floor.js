// The floor: what the server says is running, with what this terminal has recorded since on top (project.js). Asked
// again after every entry taken and every few seconds.

import * as queue from '../queue.js';
import { lotsMade, lotsUsed, project } from './project.js';
import { ask } from './server.js';

const EVERY = 5000; /* ms */

let said = { runs: [], machines: [], from: 0, kept: null };
let rows = []; /* of the queue, and lately taken */
let known = new Map(); /* all made here within a day, by key */
let abouts = new Map(); /* run: what its open entry said beyond the floor */
const listeners = new Set();

export const onFloor = (hear) => listeners.add(hear);

/** Rows that count: taken after the floor was asked, or waiting and not behind one that came back. */
async function fresh() {
  const { waiting: wait, done: taken } = await queue.both(Date.now() - 86400000);
  known = new Map([...taken, ...wait].map((r) => [r.key, r]));
  const barred = new Set(wait.filter((r) => r.problem && r.thread).map((r) => r.thread));
  const counts = wait.filter((r) => !r.problem && !(r.thread && barred.has(r.thread)));
  return [...taken.filter((r) => !r.dropped && r.taken >= said.from), ...counts];
}

async function settings(run) {
  if (abouts.has(run.run) || run.settings) return;
  abouts.set(run.run, null);
  try {
    const { body } = await ask(`/api/things/run/${encodeURIComponent(run.run)}`);
    abouts.set(run.run, body.entry?.body || null);
  } catch {
    abouts.delete(run.run);
  }
}

const seen = new Map(); /* lots looked at for this, by code */

async function lotSeen(code) {
  if (!seen.has(code)) seen.set(code, (await ask(`/api/lots/${encodeURIComponent(code)}`)).body);
  return seen.get(code);
}

/** Before its first package a run's floor may not say what is loaded: then its entries do. */
async function fill(run) {
  const loads = run.steps.filter((s) => s.kind === 'load');
  if (loads.length === 0 || run.lines.some((l) => l.feeds.length > 0)) return;
  const { body } = await ask('/api/entries', { kind: 'load', q: run.run, limit: 200 });
  const keys = new Set(loads.map((s) => s.key));
  for (const entry of (body.entries || []).filter((e) => keys.has(e.key)).reverse()) {
    const line = run.lines.find((l) => l.line === entry.body.line);
    if (!line) continue;
    const lot = await lotSeen(entry.body.lot);
    const [from, to] = entry.body.taken?.[0] || [0, lot.length_mm];
    line.feeds.push({
      lot: lot.lot,
      kind: lot.kind,
      from_mm: from,
      to_mm: to,
      off: entry.body.off || 'outer',
      weld: null,
      join: entry.body.join || null,
      seen_at_mm: entry.body.seen_at_mm ?? null,
      diameter_um: lot.diameter_um,
      grade: lot.grade,
      heats: lot.heat ? [lot.heat] : [],
      key: entry.key,
      seq: entry.seq,
    });
    line.length_mm += to - from;
  }
}

let turn = 0;
let latest = null;

/** Take in what was recorded here, and tell the page. Of several at once the last counts. */
export function update() {
  turn += 1;
  const mine = turn;
  latest = fresh().then((now) => {
    if (mine !== turn) return latest;
    rows = now;
    for (const hear of listeners) hear();
    return undefined;
  });
  return latest;
}

/** Ask the server anew. Without an answer the last one stands. */
export async function refresh() {
  const from = Date.now();
  try {
    const { body, kept } = await ask('/api/floor');
    if (kept && said.from) return update(); /* what is here is not older than what was kept */
    await Promise.all((body.runs || []).flatMap((run) => [settings(run), fill(run).catch(() => {})]));
    said = { runs: body.runs || [], machines: body.machines || [], from: kept ? Date.parse(kept) - 1000 : from, kept };
  } catch {
    /* The floor of before, with what was recorded here since. */
  }
  return update();
}

/** The runs under way, each with { settings, order, out_um, lay_um } as far as known. */
export function runs() {
  return project(said.runs, rows, known).map((run) => {
    const about = abouts.get(run.run) || {};
    const set = run.settings || about.settings || {};
    return {
      ...run,
      order: run.order || about.order || null,
      out_um: set.finish_die_um || set.diameter_um || null,
      lay_um: set.lay_um || null,
    };
  });
}

export const runOn = (machine) => runs().find((r) => r.machine === machine) || null;

/** Machines of some processes that were ever used, by name. */
export function machinesOf(processes) {
  const names = new Set(said.machines.filter((m) => processes.includes(m.process)).map((m) => m.machine));
  for (const run of runs()) if (processes.includes(run.process)) names.add(run.machine);
  return [...names].sort((a, b) => a.localeCompare(b, 'en', { numeric: true }));
}

export const made = () => lotsMade(rows);
export const used = () => lotsUsed(rows);

/** The line of an open run that a lot is on: { run, line }, or null. */
export function loadedAt(lot) {
  for (const run of runs())
    for (const line of run.lines) if (line.feeds.some((f) => f.lot === lot)) return { run, line };
  return null;
}

export function begin() {
  queue.onChange(async (what) => {
    await update();
    if (what.settled) refresh();
  });
  setInterval(() => {
    if (!document.hidden) refresh();
  }, EVERY);
  return refresh();
}
