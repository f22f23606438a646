// A test machine's file dropped on the page: its mapping is found (a note about the instrument) or made, its rows
// become test entries, and of each row it is said whether it was taken, was there already, or was refused and why.

import { el, put } from '../dom.js';
import * as queue from '../queue.js';
import { problemText } from '../said.js';
import * as where from './where.js';
import { form } from './ask.js';
import { guess, keyOf, readCsv, TARGETS, testName, testOf } from './csv.js';
import { ask } from './server.js';
import { system, t, term } from './say.js';

const NOTE = 'kinwire mapping 1 ';
const PATIENCE = 20000; /* ms until a row counts as waiting in the report */

/** The latest mapping kept for an instrument and these heads, or null. */
async function kept(instrument, heads) {
  const fits = (m) => m && m.columns && JSON.stringify(m.heads) === JSON.stringify(heads);
  const own = where.remembered(`mapping.${instrument}`);
  try {
    const { body } = await ask(`/api/things/instrument/${encodeURIComponent(instrument)}`);
    const found = (body.notes || []).filter((n) => n.text.startsWith(NOTE)).sort((a, b) => b.seq - a.seq);
    for (const note of found) {
      try {
        const mapping = JSON.parse(note.text.slice(NOTE.length));
        if (fits(mapping)) return mapping;
      } catch {
        /* Not a mapping after all. */
      }
    }
  } catch {
    /* Without the server: the one this terminal has used last. */
  }
  return fits(own) ? own : null;
}

const UNITS = { length: 'm', short: 'mm', diameter: 'mm', stress: 'MPa', force: 'kN', zinc: 'g/m2' };
const US = { length: 'ft', short: 'in', diameter: 'in', stress: 'ksi', force: 'lbf', zinc: 'g/m2' };

/** Make a mapping with the operator: what each column is, and its unit. */
async function make(heads, instrument, sample) {
  const first = guess(heads);
  const targets = Object.keys(TARGETS);
  const proposal = (head) => (first[head] ? `${first[head].is}${first[head].unit ? ` ${first[head].unit}` : ''}` : '');
  const decimal = heads.some((h, i) => /^\d+,\d+$/.test(sample[i] || '')) ? ',' : '.';
  const read = (text) => {
    const [is, ...unit] = (text || '').trim().split(/\s+/);
    return targets.includes(is)
      ? { is, unit: unit.join(' ') || (TARGETS[is] ? (system() === 'us' ? US : UNITS)[TARGETS[is]] : null) }
      : null;
  };
  const got = await form({
    title: t('file.mapping', { instrument }),
    go: t('file.keep'),
    about: [
      el('p', null, t('file.mapping.what')),
      el('p', { class: 'quiet' }, targets.map((x) => `${x} (${term('field', x)})`).join(', ')),
    ],
    fields: heads.map((head, i) => ({ name: `c${i}`, label: `${head} (${sample[i] ?? ''})`, value: proposal(head) })),
    check(out) {
      const made = heads.map((_, i) => out[`c${i}`]).filter(Boolean);
      const bad = made.find((text) => !read(text));
      if (bad) return t('file.no-target', { text: bad });
      return made.some((text) => read(text).is === 'lot') ? null : t('file.no-lot');
    },
  });
  if (!got) return null;
  const columns = {};
  heads.forEach((head, i) => {
    const to = read(got[`c${i}`]);
    if (to) columns[head] = to;
  });
  return { heads, columns, decimal };
}

/** What became of each row, as it comes in. */
function report(place, name, rows) {
  const counts = { taken: 0, again: 0, refused: 0, waiting: rows.length };
  const head = el('p', { class: 'counts' });
  const list = el('ol', { class: 'rows' });
  const lines = new Map();
  put(
    place,
    el('h3', null, name),
    head,
    el('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': t('file.rows') }, list),
  );
  for (const row of rows) {
    const state = el('strong', null, t('file.waiting'));
    const why = el('span', { class: 'soft' });
    if (lines.has(row.key)) {
      state.textContent = t('file.again');
      counts.waiting -= 1;
      counts.again += 1;
    } else lines.set(row.key, { state, why });
    list.append(
      el('li', { value: row.line, 'data-key': row.key }, el('span', { class: 'code' }, row.what), ' ', state, ' ', why),
    );
  }
  function tally() {
    put(
      head,
      ['taken', 'again', 'refused', 'waiting'].map((k) =>
        el('span', { class: `count-${k}`, 'data-count': k }, t(`file.n.${k}`, { n: counts[k] }), ' '),
      ),
    );
  }
  tally();
  return (key, state, why = '') => {
    const line = lines.get(key);
    if (!line || line.done) return;
    line.done = true;
    line.state.textContent = t(`file.${state}`);
    line.state.className = `file-${state}`;
    line.why.textContent = why;
    counts.waiting -= 1;
    counts[state] += 1;
    tally();
  };
}

/** Take a file: ask for the instrument, find or make the mapping, queue the rows, report on each in `place`. */
export async function take(shop, file, place) {
  const { rows, wrong: broken } = readCsv(await file.text());
  if (broken && broken.as !== 'empty') return shop.say(t('file.broken', { name: file.name, why: t(`file.broken.${broken.as}`), ...broken }), 'bad');
  if (rows.length < 2) return shop.say(t('file.empty', { name: file.name }), 'warn');
  if (!crypto.subtle) return shop.say(t('file.insecure'), 'warn');
  const [heads, ...cells] = rows.map((r) => r.cells);
  const got = await form({
    title: t('file.instrument', { name: file.name, n: cells.length }),
    go: t('next'),
    fields: [
      {
        name: 'instrument',
        label: t('field.instrument'),
        code: true,
        need: true,
        value: where.remembered(`file.${heads.join()}`) || '',
      },
    ],
  });
  if (!got) return undefined;
  where.remember(`file.${heads.join()}`, got.instrument);
  let mapping = await kept(got.instrument, heads);
  if (!mapping) {
    mapping = await make(heads, got.instrument, cells[0]);
    if (!mapping) return undefined;
    where.remember(`mapping.${got.instrument}`, mapping);
    await queue.add({
      kind: 'note',
      body: { about: `instrument:${got.instrument}`, text: NOTE + JSON.stringify(mapping) },
      say: { text: t('did.mapping', { instrument: got.instrument }) },
    });
  }
  const made = [];
  for (const [i, row] of cells.entries()) {
    const key = await keyOf(got.instrument, row);
    const { body, at, wrong } = testOf(heads, row, mapping, got.instrument);
    if (body && !body.test) body.test = testName(got.instrument, key);
    made.push({
      key,
      line: rows[i + 1].line,
      what: [body?.lot, body?.test].filter(Boolean).join(' ') || row.join(' '),
      entry: body && {
        key,
        kind: 'test',
        body,
        at,
        say: { text: t('did.row', { test: body.test, lot: body.lot || '' }) },
      },
      wrong,
    });
  }
  return send(made, file.name, place);
}

async function send(made, name, place) {
  const say = report(place, name, made);
  const seen = new Set();
  const good = [];
  for (const row of made) {
    if (row.wrong) say(row.key, 'refused', t('file.wrong', row.wrong));
    else if (!seen.has(row.key)) good.push(row.entry);
    seen.add(row.key);
  }
  const keys = new Set([...(await queue.waiting()).filter((r) => !r.problem).map((r) => r.key)]);
  const fresh = good.filter((e) => !keys.has(e.key));
  const stop = queue.onChange((what) => {
    if (!what.settled || !seen.has(what.settled)) return;
    if (what.problem) say(what.settled, 'refused', problemText(what.problem));
    else
      say(what.settled, what.again ? 'again' : 'taken', what.again ? '' : t('file.entry', { seq: what.receipt.seq }));
  });
  setTimeout(stop, Math.max(PATIENCE, made.length * 1000));
  /* What came back from an earlier try is sent anew under its own key. */
  for (const row of await queue.waiting())
    if (row.problem && seen.has(row.key)) await queue.drop(row.n, t('file.again-dropped'));
  await queue.add(...fresh);
}
