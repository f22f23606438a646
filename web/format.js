// Figures as a person reads and types them. The ledger keeps integers (mm, um, g, ...); here they become metres and
// kilograms, or feet and pounds, and back. 1 ft = 304.8 mm, 1 in = 25.4 mm, 1 lb = 453.592 37 g, each exact by
// definition.

import { locale, t } from './words.js';

const KEPT = 'kinwire.units';

/** 'si' or 'us'. */
export const units = () => (localStorage.getItem(KEPT) === 'us' ? 'us' : 'si');
export const setUnits = (system) => localStorage.setItem(KEPT, system);

/** What a figure is: its stored unit's size in the shown unit, and how many decimals say it exactly enough. */
const SHOWN = {
  length: { si: { unit: 'm', size: 1000, exact: 3 }, us: { unit: 'ft', size: 304.8, exact: 3 } },
  mass: { si: { unit: 'kg', size: 1000, exact: 3 }, us: { unit: 'lb', size: 453.59237, exact: 3 } },
  diameter: { si: { unit: 'mm', size: 1000, exact: 3 }, us: { unit: 'in', size: 25400, exact: 4 } },
  stress: { si: { unit: 'MPa', size: 1000, exact: 3 }, us: { unit: 'ksi', size: 6894.757293168361, exact: 3 } },
  force: { si: { unit: 'kN', size: 1000, exact: 3 }, us: { unit: 'lbf', size: 4.4482216152605, exact: 2 } },
  short: { si: { unit: 'mm', size: 1, exact: 0 }, us: { unit: 'in', size: 25.4, exact: 3 } },
};

export const unitOf = (quantity) => SHOWN[quantity][units()].unit;

const writers = new Map();
function write(value, least, most) {
  const key = `${least}/${most}`;
  if (!writers.has(key)) {
    writers.set(key, new Intl.NumberFormat(locale, { minimumFractionDigits: least, maximumFractionDigits: most }));
  }
  return writers.get(key).format(value);
}

/** A share in ppm as per cent. */
export const percent = (ppm) => `${write(ppm / 10000, 0, 4)}\u00a0%`;

/** A bare figure in a shown unit, for ticks. */
export const plainFigure = (value) => write(value || 0, 0, 4);

export const count = (n) => write(n, 0, 0);

/** As many decimals as matter at a glance. */
function glance(value) {
  const size = Math.abs(value);
  if (size === 0 || size >= 100) return 0;
  return size >= 10 ? 1 : 2;
}

function shown(stored, quantity, exact) {
  if (stored === null || stored === undefined) return t('not-known');
  const { unit, size, exact: most } = SHOWN[quantity][units()];
  const value = stored / size;
  const figure = exact ? write(value, quantity === 'length' ? most : 0, most) : write(value, 0, glance(value));
  return `${figure}\u00a0${unit}`;
}

/** Lengths in mm and masses in g at a glance, and to the last millimetre. */
export const length = (mm) => shown(mm, 'length', false);
export const lengthExact = (mm) => shown(mm, 'length', true);
export const mass = (g) => shown(g, 'mass', false);
export const diameter = (um) => shown(um, 'diameter', true);
export const short = (mm) => shown(mm, 'short', true);

/** What unit a property's name ends in, and the size of the shown one in it: [unit, size]. */
export function scaleOf(name) {
  const quantity = { _um: 'diameter', _kpa: 'stress', _n: 'force', _mm: 'length', _g: 'mass' }[/_(um|kpa|n|mm|g)$/.exec(name)?.[0]];
  if (name.endsWith('_mg_m2')) return ['g/m\u00b2', 1000];
  if (name.endsWith('_ppm')) return ['%', 10000];
  return quantity ? [SHOWN[quantity][units()].unit, SHOWN[quantity][units()].size] : ['', 1];
}

/** A figure that was computed, such as a mean, in thousandths of a property's stored unit: as many digits as matter. */
export function computed(name, milli) {
  if (milli === null || milli === undefined) return t('not-known');
  const [unit, size] = scaleOf(name);
  const value = milli / 1000 / size;
  const digits = Math.min(Math.max(3 - Math.floor(Math.log10(Math.abs(value) || 1)), 0), 4);
  return `${write(value, 0, digits)}${unit && '\u00a0'}${unit}`;
}

/** Any stored figure by the unit its name ends in. */
export function figure(name, value) {
  if (typeof value !== 'number') return String(value);
  if (['sample_mm', 'affected_mm', 'joint_distance_mm', 'gap_mm'].includes(name)) return short(value);
  if (name.endsWith('_mm')) return lengthExact(value);
  if (name.endsWith('_um')) return diameter(value);
  if (name.endsWith('_mg_m2')) return `${write(value / 1000, 0, 3)}\u00a0g/m\u00b2`;
  if (name.endsWith('_g')) return mass(value);
  if (name.endsWith('_kpa')) return shown(value, 'stress', true);
  if (name.endsWith('_n')) return shown(value, 'force', true);
  if (name.endsWith('_ppm')) return `${count(value)}\u00a0ppm`;
  return count(value);
}

/** A length as a bare figure in the shown unit, for ticks. */
export const lengthFigure = (mm) => write(mm / SHOWN.length[units()].size, 0, 3);

/** [[a,b],...] as "0.000 to 1,240.000 m". */
export function spans(list) {
  if (!list || list.length === 0) return t('none');
  const { unit, size } = SHOWN.length[units()];
  const one = ([a, b]) => t('from-to', { from: write(a / size, 3, 3), to: write(b / size, 3, 3) });
  return `${list.map(one).join('; ')}\u00a0${unit}`;
}

export const spansLength = (list) => (list || []).reduce((sum, [a, b]) => sum + b - a, 0);

/** A typed figure to a number: "1200", "1 200.5", "1,200.5" as the locale writes it; NaN when it can't be read. */
export function readNumber(text) {
  const parts = new Intl.NumberFormat(locale).formatToParts(12345.6);
  const group = parts.find((p) => p.type === 'group')?.value || ' ';
  const decimal = parts.find((p) => p.type === 'decimal')?.value || '.';
  let bare = text.trim().replace(/[\s\u00a0\u202f']/g, '');
  if (group.trim() && bare.includes(group)) {
    const whole = bare.split(decimal)[0].split(group);
    const grouped = whole.every((g, i) => (i === 0 ? /^-?\d{1,3}$/ : /^\d{3}$/).test(g));
    if (!grouped) return NaN;
    bare = bare.split(group).join('');
  }
  bare = bare.replace(decimal, '.');
  return /^-?\d+(\.\d+)?$/.test(bare) ? Number(bare) : NaN;
}

/** A typed figure in the shown unit to the stored integer; NaN when it can't be read. */
export const readQuantity = (text, quantity) => Math.round(readNumber(text) * SHOWN[quantity][units()].size);

const decimalMark = new Intl.NumberFormat(locale).formatToParts(0.5).find((p) => p.type === 'decimal')?.value || '.';

/** A number as one would type it here: the locale's decimal mark, no thousands' marks. */
export const plainText = (value, decimals = 6) => String(Number(value.toFixed(decimals))).replace('.', decimalMark);

/** The stored integer as the text one would have typed. */
export function typed(stored, quantity) {
  const { size, exact } = SHOWN[quantity][units()];
  return plainText(stored / size, exact);
}

const stampParts = { dateStyle: 'medium', timeStyle: 'short', hourCycle: 'h23', timeZone: 'UTC' };
const stampFormat = new Intl.DateTimeFormat(locale, stampParts);
const dayFormat = new Intl.DateTimeFormat(locale, { dateStyle: 'medium', timeZone: 'UTC' });

/** RFC 3339 to a date and time in UTC, as the locale writes it. */
export function stamp(text) {
  const at = new Date(text || NaN);
  return Number.isNaN(at.getTime()) ? t('not-known') : `${stampFormat.format(at)} UTC`;
}

export function day(text) {
  const at = new Date(text || NaN);
  return Number.isNaN(at.getTime()) ? t('not-known') : dayFormat.format(at);
}

/** The first digits of a hash, enough to compare by eye. */
export const shortHash = (hex) =>
  String(hex || '')
    .replace(/(.{8})(?=.)/g, '$1 ')
    .slice(0, 17);
