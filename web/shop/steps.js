// The steps of a run as entries: what the operator has said, in; the entry, out. Pure.

const thread = (run) => `run:${run}`;

/** Members that have a value. */
const given = (members) =>
  Object.fromEntries(Object.entries(members).filter(([, v]) => v !== null && v !== undefined && v !== ''));

export function open({ run, process, machine, lines, order = null, batch = null, settings = {}, started }) {
  const set = given(settings);
  return {
    kind: 'open',
    thread: thread(run),
    body: given({
      run,
      process,
      machine,
      order,
      batch,
      started,
      lines,
      settings: Object.keys(set).length > 0 ? set : null,
    }),
  };
}

/**
 * A lot on a line. `behind`: the line has a lot already; then how it is joined, and where the join was seen, if it was.
 */
export function load({ run, line, lot, behind = false, join = null, seen_at_mm: seen = null, off = null, about }) {
  return {
    kind: 'load',
    thread: thread(run),
    body: given({ run, line, lot, off, join: behind ? join : null, seen_at_mm: behind ? seen : null }),
    say: { lot: about },
  };
}

export function doff({
  run,
  lot,
  kind,
  length_mm: length,
  mass_g: mass = null,
  diameter_um: diameter = null,
  construction = null,
  doffed,
}) {
  return {
    kind: 'doff',
    thread: thread(run),
    body: given({ run, lot, kind, length_mm: length, mass_g: mass, diameter_um: diameter, construction, doffed }),
  };
}

export function scrap({ run, scrap_mm: length, reason }) {
  return { kind: 'doff', thread: thread(run), body: given({ run, scrap_mm: length, reason }) };
}

/** `left`: [{line, left_mm}], only of lines where something is left. */
export function close({ run, ended, left }) {
  const rest = left.filter((l) => l.left_mm > 0);
  return { kind: 'close', thread: thread(run), body: given({ run, ended, left: rest.length > 0 ? rest : null }) };
}

/**
 * Cutting or splitting, logged whole: pieces are [{lot, length_mm} or {scrap_mm}], in the order in which they come off.
 */
export function cut({
  run,
  process,
  machine,
  lot,
  from_mm: from,
  to_mm: to,
  pieces,
  kind,
  diameter_um: diameter = null,
  construction = null,
  started,
  ended,
  order = null,
}) {
  const packages = pieces.map((p) =>
    p.scrap
      ? given({ scrap_mm: p.length_mm, reason: p.reason })
      : given({ lot: p.lot, kind, length_mm: p.length_mm, diameter_um: diameter, construction }),
  );
  return {
    kind: 'run',
    thread: thread(run),
    body: given({
      run,
      process,
      machine,
      started,
      ended,
      order,
      lines: [{ line: '1', feeds: [{ lot: lot.lot, from_mm: from, to_mm: to, off: 'outer' }] }],
      packages,
    }),
  };
}
