// A test machine's file: CSV to rows, a row to a test entry by a mapping of its columns. Pure but for the hash of the
// browser.

/**
 * RFC 4180, with ',', ';' or tab between cells (the one that the first line has most of). Returns rows of cells; null
 * when a quote is left open.
 */
export function parseCsv(text) {
  const bare = text.replace(/^\ufeff/, '');
  const line = bare.split(/\r?\n/, 1)[0].replace(/"[^"]*"/g, '');
  const mark = [',', ';', '\t'].map((m) => [m, line.split(m).length]).sort((a, b) => b[1] - a[1])[0][0];
  const rows = [[]];
  let cell = '';
  let quoted = false;
  for (let i = 0; i < bare.length; i += 1) {
    const c = bare[i];
    if (quoted) {
      if (c !== '"') cell += c;
      else if (bare[i + 1] === '"') {
        cell += '"';
        i += 1;
      } else quoted = false;
    } else if (c === '"' && cell === '') quoted = true;
    else if (c === mark || c === '\n') {
      rows.at(-1).push(cell.trim());
      cell = '';
      if (c === '\n') rows.push([]);
    } else if (c !== '\r') cell += c;
  }
  if (quoted) return null;
  rows.at(-1).push(cell.trim());
  return rows.filter((r) => r.some((x) => x !== ''));
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

const FAIL = /^(fail|failed|nok|ng|no|bad|rechaz|falla|0|false)/i;

/**
 * A row to the body of a test. `mapping`: { columns: {head: {is, unit}}, decimal: '.' or ',' }; `parse(text, quantity)`
 * to the stored number or null.
 * Returns { body, at } or { wrong: {column, text} }.
 */
export function testOf(heads, row, mapping, instrument, parse) {
  const body = { results: {} };
  let at = null;
  for (const [i, head] of heads.entries()) {
    const to = mapping.columns[head];
    const text = row[i] ?? '';
    if (!to || text === '') continue;
    if (to.is === 'lot' || to.is === 'test') body[to.is] = text.toUpperCase();
    else if (to.is === 'verdict') body.verdict = FAIL.test(text) ? 'fail' : 'pass';
    else if (to.is === 'at') {
      const when = new Date(/[zZ]|[+-]\d\d:?\d\d$/.test(text) ? text : `${text.replace(' ', 'T')}Z`);
      if (Number.isNaN(when.getTime())) return { wrong: { column: head, text } };
      at = when.toISOString().replace(/\.\d+Z$/, 'Z');
    } else {
      const quantity = TARGETS[to.is];
      const plain = mapping.decimal === ',' ? text.replaceAll('.', '').replace(',', '.') : text;
      const value = quantity
        ? parse(to.unit && !/[a-z"]\s*$/i.test(plain) ? `${plain} ${to.unit}` : plain, quantity)
        : /^\d{1,9}$/.test(text)
          ? Number(text)
          : null;
      if (value === null) return { wrong: { column: head, text } };
      if (RESULTS.has(to.is)) body.results[to.is] = value;
      else body[to.is] = value;
    }
  }
  body.instrument = instrument;
  return { body, at };
}

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
