// The floor as it will be: what the server last said is running, and on top of it what this terminal has recorded
// since. So the page is right at once, with the server or without. Pure: runs and rows in, runs out.

const feedOf = (row) => {
  const {
    lot,
    weld = null,
    join = null,
    seen_at_mm: seen = null,
    from_mm: from,
    to_mm: to,
    off = 'outer',
    take_mm: take,
  } = row.body;
  const about = row.say?.lot || {};
  const length = take ?? (to !== undefined ? to - (from || 0) : (about.left_mm ?? about.length_mm ?? null));
  return {
    lot,
    off,
    weld,
    join,
    seen_at_mm: seen,
    kind: about.kind || null,
    diameter_um: about.diameter_um ?? null,
    grade: about.grade || null,
    heats: about.heats || [],
    from_mm: from ?? 0,
    to_mm: length === null ? null : (from ?? 0) + length,
    length_mm: length,
    key: row.key,
    seq: row.seq ?? null,
    waits: !row.seq,
  };
};

const packageOf = (row, s0) => {
  const {
    lot = null,
    kind = 'scrap',
    length_mm: length,
    scrap_mm: scrap,
    doffed = null,
    diameter_um: diameter = null,
  } = row.body;
  return {
    lot,
    kind,
    length_mm: length ?? scrap,
    s0,
    s1: s0 + (length ?? scrap),
    doffed,
    diameter_um: diameter,
    key: row.key,
    seq: row.seq ?? null,
    waits: !row.seq,
  };
};

/** Each kind of step: what it does to the runs. */
const APPLY = {
  open(runs, row) {
    const { run, process, machine, started = row.at, order = null, lines, settings = {} } = row.body;
    if (runs.some((r) => r.run === run)) return;
    runs.push({
      run,
      process,
      machine,
      started,
      order,
      settings,
      length_mm: 0,
      lines: lines.map((line) => ({ line, length_mm: 0, feeds: [] })),
      packages: [],
      key: row.key,
      steps: [],
    });
  },
  load(runs, row) {
    const line = runs.find((r) => r.run === row.body.run)?.lines.find((l) => l.line === row.body.line);
    if (!line) return;
    const feed = feedOf(row);
    line.feeds.push(feed);
    line.length_mm += feed.length_mm || 0;
  },
  doff(runs, row) {
    const run = runs.find((r) => r.run === row.body.run);
    if (!run) return;
    run.packages.push(packageOf(row, run.length_mm));
    run.length_mm = run.packages.at(-1).s1;
  },
  close(runs, row) {
    const at = runs.findIndex((r) => r.run === row.body.run);
    if (at >= 0) runs.splice(at, 1);
  },
};

/** Rows that stand: without those that a later void takes back, and without the voids. */
export function standing(rows) {
  const gone = new Set(rows.filter((r) => r.kind === 'void').map((r) => r.body.entry));
  return rows.filter((r) => r.kind !== 'void' && !gone.has(r.key));
}

/**
 * Whether a feed or a package is what an entry put there; by key where the floor says it, else by what the entry says.
 */
const isOf = (it, key, row) =>
  it.key
    ? it.key === key
    : row && (row.body.lot ? it.lot === row.body.lot : row.body.scrap_mm === it.length_mm && !it.lot);

/** Take a step out of the runs: it was undone here, and the server's answer is from before that. */
function without(runs, key, row) {
  for (const run of runs) {
    if (row && row.body.run !== run.run) continue;
    for (const line of run.lines) {
      line.feeds = line.feeds.filter((f) => !isOf(f, key, row?.kind === 'load' ? row : null));
      line.length_mm = line.feeds.reduce((sum, f) => sum + (f.length_mm || 0), 0);
    }
    const gone = run.packages.findLastIndex((p) => isOf(p, key, row?.kind === 'doff' ? row : null));
    if (gone >= 0) run.packages.splice(gone, 1);
    let s = 0;
    for (const p of run.packages) {
      [p.s0, p.s1] = [s, s + p.length_mm];
      s = p.s1;
    }
    run.length_mm = s;
    run.steps = run.steps.filter((step) => step.key !== key);
  }
  return runs.filter((run) => run.key !== key);
}

/**
 * The runs under way. `rows`: entries made here that the floor does not show yet, oldest first (taken ones have a seq).
 * What came back
 * does not count, nor what waits behind it: the caller leaves it out. `known`: all entries made here of late, by key.
 */
export function project(runs, rows, known = new Map()) {
  let out = structuredClone(runs).map((run) => ({
    ...run,
    key: run.key ?? run.steps.find((step) => step.kind === 'open')?.key ?? null,
    lines: run.lines.map((l) => ({
      ...l,
      feeds: l.feeds.map((f) => ({ ...f, length_mm: f.length_mm ?? f.to_mm - f.from_mm })),
    })),
  }));
  for (const {
    body: { entry },
  } of rows.filter((r) => r.kind === 'void'))
    out = without(out, entry, known.get(entry));
  const seen = new Set(
    out.flatMap((run) => [
      run.key,
      ...run.steps.map((s) => s.key),
      ...run.lines.flatMap((l) => l.feeds.map((f) => f.key)),
      ...run.packages.map((p) => p.key),
    ]),
  );
  for (const row of standing(rows)) {
    if (seen.has(row.key)) continue;
    APPLY[row.kind]?.(out, row);
    const run = out.find((r) => r.run === row.body.run);
    if (run && row.kind !== 'open') run.steps.push({ key: row.key, kind: row.kind, seq: row.seq ?? null, at: row.at });
  }
  return out;
}

/** Lots that rows make, by code: as much as is known of each. */
export function lotsMade(rows) {
  const made = new Map();
  const put = (lot) =>
    made.set(lot.lot, {
      state: 'in-stock',
      left_mm: lot.length_mm,
      left: lot.length_mm ? [[0, lot.length_mm]] : [],
      holds: [],
      measured_um: [],
      tests: [],
      waits: true,
      ...lot,
    });
  for (const row of standing(rows)) {
    const b = row.body;
    if (row.kind === 'receive')
      put({
        lot: b.lot,
        kind: b.kind || 'rod',
        length_mm: b.length_mm ?? row.say?.length_mm ?? null,
        mass_g: b.mass_g ?? null,
        diameter_um: b.diameter_um,
        heat: b.heat || null,
      });
    if (row.kind === 'doff' && b.lot)
      put({
        lot: b.lot,
        kind: b.kind,
        length_mm: b.length_mm,
        mass_g: b.mass_g ?? null,
        diameter_um: b.diameter_um ?? null,
        run: b.run,
      });
    if (row.kind === 'run')
      for (const p of b.packages)
        if (p.lot)
          put({ lot: p.lot, kind: p.kind, length_mm: p.length_mm, diameter_um: p.diameter_um ?? null, run: b.run });
  }
  return made;
}

/** Lots that rows have used up, by code: in which run. */
export function lotsUsed(rows) {
  const used = new Map();
  for (const row of standing(rows)) if (row.kind === 'load') used.set(row.body.lot, row.body.run);
  return used;
}

/**
 * Length of a wire in a helix over the length of the strand: pitch circle D - d, lay in the same unit. The king wire
 * and the core run straight.
 */
function takeUp(line, feed, { out_um: out, lay_um: lay }) {
  if (!lay || !out || !feed.diameter_um || /^core$/i.test(line) || line === '1') return 1;
  return Math.hypot(1, (Math.PI * Math.max(0, out - feed.diameter_um)) / lay);
}

/**
 * How much a line's input makes of output, mm; null when there is nothing to reckon it from. By area: (d in / d out)^2;
 * by lay: the wire's
 * length over its take-up; else as long as it went in. `about`: { out_um, lay_um } of the run.
 */
export function implied(line, ratio, about) {
  let sum = 0;
  for (const feed of line.feeds) {
    if (feed.length_mm === null) return null;
    if (ratio === 'diameter') {
      if (!about.out_um || !feed.diameter_um) return null;
      sum += (feed.length_mm * feed.diameter_um * feed.diameter_um) / (about.out_um * about.out_um);
    } else if (ratio === 'lay') sum += feed.length_mm / takeUp(line.line, feed, about);
    else sum += feed.length_mm;
  }
  return Math.round(sum);
}

/**
 * What should be left of the lot on each loaded line, by what was made: by line, mm to the next metre; null when there is
 * nothing to reckon it from. No more than went on, since something of it was used.
 */
export function leftOver(run, ratio, about) {
  return new Map(
    run.lines
      .filter((l) => l.feeds.length > 0)
      .map((l) => {
        const whole = implied(l, ratio, about);
        if (!whole) return [l.line, null];
        const taken = l.feeds.reduce((sum, f) => sum + f.length_mm, 0);
        const left = Math.round((taken * (1 - run.length_mm / whole)) / 1000) * 1000;
        return [l.line, Math.min(Math.max(0, left), l.feeds.at(-1).length_mm - 1)];
      }),
  );
}

/** The loaded lines of a run by when they run out: [{line, implied, rest}], the next to run out first. */
export function runningOut(run, ratio, about) {
  return run.lines
    .filter((l) => l.feeds.length > 0)
    .map((l) => {
      const whole = implied(l, ratio, about);
      return { line: l.line, implied: whole, rest: whole === null ? null : whole - run.length_mm };
    })
    .sort((a, b) => (a.rest ?? Infinity) - (b.rest ?? Infinity));
}
