// How the server stands, from its figures: what is in order, what is worth a look, and what has to be done now. Data in,
// data out; service.js draws it.

const GIB = 2 ** 30;
const DAY = 86400;

/** The text of /metrics as {name, or name{labels}: value}. */
export function readFigures(text) {
  const figures = {};
  for (const line of text.split('\n')) {
    const at = line.lastIndexOf(' ');
    if (line && line[0] !== '#' && at > 0) figures[line.slice(0, at)] = Number(line.slice(at + 1));
  }
  return figures;
}

const age = (s) =>
  s < 0 ? { key: 'none' } : s < 7200 ? { key: 'minutes', minutes: Math.round(s / 60) } : { key: 'is', hours: Math.round(s / 3600) };

const worst = (act, look) => (act ? 'act' : look ? 'look' : 'good');

/**
 * Rows of {name, state, values}: the words of a row are `standing.NAME`, with its values in `standing.NAME.is`. `who` is
 * what /api/me says, `secure` whether the page came by TLS.
 */
export function standing(f, who, secure) {
  const limited = (name) => f[`kinwire_limited_total{limit="${name}"}`] || 0;
  const signIns = (name) => f[`kinwire_sign_ins_total{outcome="${name}"}`] || 0;
  const free = f.kinwire_disk_free_bytes;
  const floor = f.kinwire_disk_floor_bytes;
  const commits = f.kinwire_commit_seconds_count || 0;
  const mean = commits ? f.kinwire_commit_seconds_sum / commits : 0;
  const left = f.kinwire_certificate_seconds_left;
  const rows = [
    { name: 'writer', state: worst(f.kinwire_writer_failed > 0), values: { key: f.kinwire_writer_failed > 0 ? 'failed' : 'is' } },
    {
      name: 'room',
      state: worst(f.kinwire_read_only > 0, free < Math.max(4 * floor, GIB)),
      values: { key: f.kinwire_read_only > 0 ? 'full' : 'is', free: free / GIB, floor: floor / GIB },
    },
    {
      name: 'commit',
      state: worst(f.kinwire_commit_seconds_waiting > 5, mean > 0.1),
      values: { key: commits ? 'is' : 'none', mean: mean * 1000, most: (f.kinwire_commit_seconds_max || 0) * 1000 },
    },
    { name: 'queue', state: worst(false, f.kinwire_queue > 100), values: { key: 'is', now: f.kinwire_queue, most: f.kinwire_queue_max } },
    { name: 'log', state: worst(false, f.kinwire_log_bytes > 64 * 2 ** 20), values: { key: 'is', size: f.kinwire_log_bytes / 2 ** 20 } },
    {
      name: 'age',
      state: worst(false, f.kinwire_head_age_seconds > 3 * DAY),
      values: age(f.kinwire_head_age_seconds),
    },
    {
      name: 'private',
      state: worst(who.in_the_clear, false),
      values: { key: who.in_the_clear ? 'clear' : secure ? 'is' : 'here' },
    },
    { name: 'who', state: worst(false, who.open), values: { key: who.open ? 'open' : 'is' } },
    {
      name: 'tries',
      state: worst(false, signIns('locked') > 0),
      values: { key: 'is', refused: signIns('refused'), locked: signIns('locked') },
    },
    {
      name: 'limited',
      state: worst(false, limited('room') > 0),
      values: { key: 'is', n: limited('rate') + limited('sign-in') + limited('heavy') + limited('room') },
    },
  ];
  if (left !== undefined)
    rows.splice(7, 0, { name: 'certificate', state: worst(left < 3 * DAY, left < 14 * DAY), values: { key: 'is', days: left / DAY } });
  return rows;
}
