// A test machine's file: CSV to rows, a row to a test entry by a mapping of its columns. Pure but for the hash of the
// browser.

import { QUANTITIES, rounded } from '../units.js';

/** What stands most often between cells in the first line, outside of quotation marks. */
function separator(text) {
  const line = text.split('\n', 1)[0].replace(/"[^"]*"/g, '');
  return [',', ';', '\t'].map((m) => [m, line.split(m).length]).sort((a, b) => b[1] - a[1])[0][0];
}

const CONTROL = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f\ufffd]/;

/**
 * RFC 4180, strictly, with ',', ';' or tab between cells (the one that the first line has most of): the same as
 * kw_csv_read of the server. Returns { rows: [{line, cells}], wrong: null }, or `wrong` with { line, column, as }.
 */
export function readCsv(text) {
  const bare = text.replace(/^\ufeff/, '');
  const mark = separator(bare);
  const rows = [];
  let [at, line] = [0, 1];
  const blank = (c) => (c === ' ' || c === '\t') && c !== mark;
  const stop = (c) => c === undefined || c === mark || c === '\n' || c === '\r';
  while (at < bare.length) {
    const [begun, cells] = [line, []];
    const wrong = (as, where = line, column = cells.length + 1) => ({ rows: [], wrong: { line: where, column, as } });
    for (let ended = false; !ended;) {
      let cell = '';
      if (cells.length === 64) return wrong('too-wide');
      while (blank(bare[at])) at += 1;
      if (bare[at] === '"') {
        for (at += 1; ; at += 1) {
          if (at >= bare.length) return wrong('open-quote');
          if (bare[at] === '"' && bare[(at += 1)] !== '"') break;
          if (CONTROL.test(bare[at])) return wrong('not-text');
          if (bare[at] === '\n') line += 1;
          cell += bare[at];
        }
        while (blank(bare[at])) at += 1;
        if (!stop(bare[at])) return wrong('after-quote');
      } else {
        for (; !stop(bare[at]); at += 1) {
          if (bare[at] === '"') return wrong('stray-quote');
          if (CONTROL.test(bare[at])) return wrong('not-text');
          cell += bare[at];
        }
      }
      cells.push(cell.replace(/^[ \t]+|[ \t]+$/g, ''));
      if (bare[at] === '\r') {
        at += 1;
        if (at < bare.length && bare[at] !== '\n') return wrong('not-text', line, cells.length);
      }
      ended = at >= bare.length || bare[at] === '\n';
      at += 1;
    }
    line += 1;
    if (cells.some((c) => c !== '')) {
      if (rows.length > 0 && cells.length !== rows[0].cells.length) return wrong('cells', begun, cells.length);
      rows.push({ line: begun, cells });
    }
  }
  return { rows, wrong: rows.length > 0 ? null : { line: 1, column: 1, as: 'empty' } };
}

/** What a column may be, with the quantity of its figure (null: text or a plain number). */
export const TARGETS = {
  lot: null,
  test: null,
  at: null,
  verdict: null,
  at_mm: 'length',
  sample_mm: 'short',
  diameter_um: 'diameter',
  tensile_kpa: 'stress',
  breaking_n: 'force',
  torsions: null,
  bends: null,
  zinc_mg_m2: 'zinc',
  lay_um: 'diameter',
  reduction_ppm: null,
};
const RESULTS = new Set([
  'diameter_um',
  'tensile_kpa',
  'breaking_n',
  'torsions',
  'bends',
  'zinc_mg_m2',
  'lay_um',
  'reduction_ppm',
]);

const GUESS = [
  ['test', /^(test|prueba|sample) ?(no|nr|number|id|code)?\.?$/i],
  ['lot', /^(lot|bobbin|coil|spool|reel|lote|bobina|specimen|piece)\b/i],
  ['at', /^(time|date|datetime|timestamp|when|fecha|hora)\b/i],
  ['verdict', /verdict|pass|result|ok|resultado|dictamen/i],
  ['diameter_um', /^d(ia|iam|iameter|i\u00e1metro|iametro)?\b/i],
  ['tensile_kpa', /\brm\b|tensile|strength|resistencia/i],
  ['breaking_n', /break|fm\b|force|load|rotura|fuerza/i],
  ['torsions', /torsion|twist|torsi/i],
  ['bends', /bend|dobl/i],
  ['zinc_mg_m2', /zinc|coating/i],
  ['lay_um', /lay|paso/i],
  ['at_mm', /position|length|posici/i],
  ['sample_mm', /gauge|muestra/i],
  ['reduction_ppm', /reduction|reducci/i],
];
const UNIT = /[[(]\s*([^\])]+?)\s*[\])]|_(mm|um|mpa|kpa|ksi|kn|n|lbf|in|m|ft)$/i;

/** A first proposal for a file's heads: { column: { is, unit } }. */
export function guess(heads) {
  const columns = {};
  for (const head of heads) {
    const found = GUESS.find(([, pattern]) => pattern.test(head));
    const unit = UNIT.exec(head);
    if (found && !Object.values(columns).some((c) => c.is === found[0]))
      columns[head] = { is: found[0], unit: unit ? unit[1] || unit[2] : null };
  }
  return columns;
}

const FAIL = /^(fail|nok|ng|no|bad|rechaz|falla|0|false)/i;
const PASS = /^(pass|ok|good|yes|true|1|conforme|apto|aprob)/i;
const WHEN = /^\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:[0-5]\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)?$/i;
const DIGITS = 15;
const FIGURE = { ',': /^([+-]?)(\d{1,3}(?:\.\d{3})+|\d*)(?:,(\d+))?[ \t]*(.*)$/, '.': /^([+-]?)(\d{1,3}(?:,\d{3})+|\d*)(?:\.(\d+))?[ \t]*(.*)$/ };
const USUAL = { length: 'm', short: 'mm', diameter: 'mm', stress: 'mpa', force: 'kn', zinc: 'g/m2' };

/**
 * A cell as the stored whole number, or null: the same as kw_machine_figure of the server. `decimal`: '.' or ','; the
 * other one may part thousands. A unit in the cell comes before the column's.
 */
export function figureOf(text, target, unit, decimal) {
  const quantity = TARGETS[target];
  const found = quantity && FIGURE[decimal === ',' ? ',' : '.'].exec(text);
  if (!found) return null;
  const [, sign, whole, part = '', named] = found;
  const digits = whole.replace(/[.,]/g, '') + part;
  if (digits === '' || digits.length > DIGITS) return null;
  const name = (named || unit || USUAL[quantity]).toLowerCase().replace(/^"$/, 'in');
  const units = QUANTITIES[quantity].units;
  if (!Object.hasOwn(units, name)) return null;
  const [top, bottom] = units[name];
  const value = Number(rounded([BigInt(digits) * top, 10n ** BigInt(part.length) * bottom]));
  return Number.isSafeInteger(value) ? (sign === '-' && value ? -value : value) : null;
}

/* A day and a time of it as RFC 3339 in UTC, or null. */
function when(text) {
  if (text.length > 40 || !WHEN.test(text)) return null;
  const [date, time] = [text.slice(0, 10), text.slice(11)];
  const day = new Date(`${date}T00:00:00Z`);
  if (Number.isNaN(day.getTime()) || day.toISOString().slice(0, 10) !== date || time.slice(0, 2) > '23') return null;
  const at = new Date(`${date}T${time}${/(z|[+-]\d\d:\d\d)$/i.test(time) ? '' : 'Z'}`.toUpperCase());
  return Number.isNaN(at.getTime()) ? null : at.toISOString().replace(/\.\d+Z$/, 'Z');
}

const upper = (text) => text.replace(/[a-z]/g, (c) => c.toUpperCase());

/**
 * A row to the body of a test: the same as kw_machine_row of the server. `mapping`: { columns: {head: {is, unit}},
 * decimal: '.' or ',' }. Returns { body, at } or { wrong: {column, text} }.
 */
export function testOf(heads, row, mapping, instrument) {
  const body = { results: {} };
  let at = null;
  for (const [i, head] of heads.entries()) {
    const to = Object.hasOwn(mapping.columns, head) ? mapping.columns[head] : null;
    const text = row[i];
    if (!to || text === '' || !Object.hasOwn(TARGETS, to.is)) continue;
    const wrong = { wrong: { column: head, text } };
    if (to.is === 'lot' || to.is === 'test') body[to.is] = upper(text);
    else if (to.is === 'verdict') {
      if (!FAIL.test(text) && !PASS.test(text)) return wrong;
      body.verdict = FAIL.test(text) ? 'fail' : 'pass';
    } else if (to.is === 'at') {
      at = when(text);
      if (at === null) return wrong;
    } else {
      const plain = /^\d{1,9}$/.test(text) ? Number(text) : null;
      const value = TARGETS[to.is] ? figureOf(text, to.is, to.unit, mapping.decimal) : plain;
      if (value === null) return wrong;
      if (RESULTS.has(to.is)) body.results[to.is] = value;
      else body[to.is] = value;
    }
  }
  body.instrument = instrument;
  return { body, at };
}

/** The number of a test that its row doesn't name: after its instrument and its row. */
export const testName = (instrument, key) =>
  `${instrument.slice(0, 27)}-${key.replaceAll('-', '').slice(0, 12).toUpperCase()}`;

/** Namespace of the keys of rows, made once for this purpose. */
const ROWS = '5f0c7a52-6d0e-4b43-9a39-8f2b4f3a1c77';

/** A name-based UUID (RFC 9562, version 5): the same instrument and row give the same key. */
export async function keyOf(instrument, cells) {
  const name = new TextEncoder().encode(JSON.stringify([instrument, ...cells]));
  const space = Uint8Array.from(ROWS.replaceAll('-', '').match(/../g), (h) => parseInt(h, 16));
  const all = new Uint8Array(space.length + name.length);
  all.set(space);
  all.set(name, space.length);
  const hash = new Uint8Array(await crypto.subtle.digest('SHA-1', all)).slice(0, 16);
  hash[6] = (hash[6] & 0x0f) | 0x50;
  hash[8] = (hash[8] & 0x3f) | 0x80;
  const hex = [...hash].map((b) => b.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
