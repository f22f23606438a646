// Units of measure: lengths, diameters, masses, stresses and forces as they are typed and shown, and the whole numbers
// that are stored.
//
// Every unit is an exact fraction of the stored one, by definition: 1 in = 25.4 mm and 1 lb = 0.453 592 37 kg (the yard
// and pound agreement of 1959), 1 lbf = 4.448 221 615 260 5 N (that pound under 9.806 65 m/s2), 1 ksi = 1000 lbf on a
// square inch. The arithmetic is on fractions of BigInts, rounded once, at the end, half away from zero. So a figure
// shown to its last decimal and typed again is the same.

/** Names of units as they may be typed, and the size of one in the stored unit as [numerator, denominator]. */
const MM = {
  mm: [1n, 1n],
  cm: [10n, 1n],
  m: [1000n, 1n],
  km: [1000000n, 1n],
  in: [127n, 5n],
  ft: [1524n, 5n],
  yd: [4572n, 5n],
};
const UM = {
  um: [1n, 1n],
  µm: [1n, 1n],
  μm: [1n, 1n],
  mm: [1000n, 1n],
  cm: [10000n, 1n],
  in: [25400n, 1n],
  mil: [127n, 5n],
};
const G = {
  g: [1n, 1n],
  kg: [1000n, 1n],
  t: [1000000n, 1n],
  lb: [45359237n, 100000n],
  lbs: [45359237n, 100000n],
  oz: [45359237n, 1600000n],
};
const KPA = {
  kpa: [1n, 1n],
  mpa: [1000n, 1n],
  gpa: [1000000n, 1n],
  'n/mm2': [1000n, 1n],
  'n/mm²': [1000n, 1n],
  psi: [44482216152605n, 6451600000000n],
  ksi: [44482216152605n, 6451600000n],
};
const N = {
  n: [1n, 1n],
  kn: [1000n, 1n],
  lbf: [44482216152605n, 10000000000000n],
  kip: [44482216152605n, 10000000000n],
};
const PPM = { ppm: [1n, 1n], '%': [10000n, 1n] };
const MG_M2 = { 'mg/m2': [1n, 1n], 'g/m2': [1000n, 1n], 'g/m²': [1000n, 1n] };

/**
 * What can be measured: the names of its units, and for each system the unit it is shown in, how that is written, the
 * decimals that
 * matter at a glance and those that give back the stored number.
 */
export const QUANTITIES = {
  length: { units: MM, si: ['m', 'm', 0, 3], us: ['ft', 'ft', 0, 3] },
  short: { units: MM, si: ['mm', 'mm', 0, 0], us: ['in', 'in', 2, 2] },
  diameter: { units: UM, si: ['mm', 'mm', 2, 3], us: ['in', 'in', 4, 5] },
  mass: { units: G, si: ['kg', 'kg', 1, 3], us: ['lb', 'lb', 1, 3] },
  stress: { units: KPA, si: ['mpa', 'MPa', 0, 3], us: ['ksi', 'ksi', 1, 4] },
  force: { units: N, si: ['kn', 'kN', 1, 3], us: ['lbf', 'lbf', 0, 1] },
  share: { units: PPM, si: ['%', '%', 1, 4], us: ['%', '%', 1, 4] },
  zinc: { units: MG_M2, si: ['g/m2', 'g/m²', 0, 3], us: ['g/m2', 'g/m²', 0, 3] },
};

/** The quantity of a stored member, by the unit its name ends in; null for a plain number. */
export function quantityOf(name) {
  if (/^(sample|affected)_mm$/.test(name)) return 'short';
  if (/_mg_m2$/.test(name)) return 'zinc';
  const ending = /_(mm|um|g|kpa|n)$/.exec(name);
  return ending ? { mm: 'length', um: 'diameter', g: 'mass', kpa: 'stress', n: 'force' }[ending[1]] : null;
}

/** How a figure of a quantity is written: its unit. */
export const unitName = (quantity, system) => QUANTITIES[quantity][system][1];

const PLAIN = { group: ',', decimal: '.' };

/** How a locale writes numbers: { group, decimal }. */
export function marks(locale) {
  const parts = new Intl.NumberFormat(locale).formatToParts(1234567.8);
  return {
    group: parts.find((p) => p.type === 'group')?.value || ' ',
    decimal: parts.find((p) => p.type === 'decimal')?.value || '.',
  };
}

/**
 * Digits as typed to a fraction; null when they are no number. A mark that parts no thousands is taken for the decimal
 * one.
 */
function decimal(text, { group, decimal: mark }) {
  let bare = text.trim();
  const sign = /^[-\u2212]/.test(bare) ? -1n : 1n;
  bare = bare.replace(/^[-\u2212]/, '');
  if (/[\s\u00a0\u202f']/.test(bare)) {
    if (!/^\d{1,3}([\s\u00a0\u202f']\d{3})+([.,]\d*)?$/.test(bare)) return null;
    bare = bare.replace(/[\s\u00a0\u202f']/g, '');
  }
  if (group.trim() && bare.includes(group)) {
    const whole = bare.split(mark)[0].split(group);
    const grouped = whole.length > 1 && whole.every((g, i) => (i === 0 ? /^[1-9]\d{0,2}$/ : /^\d{3}$/).test(g));
    if (grouped) bare = bare.split(group).join('');
    else if (bare.includes(mark) || whole.length !== 2) return null;
    else bare = bare.replace(group, mark);
  }
  const found = /^(\d*)(?:\.(\d*))?$/.exec(bare.replace(mark, '.'));
  if (!found || (!found[1] && !found[2])) return null;
  const digits = found[2] || '';
  return [sign * BigInt(`${found[1]}${digits}` || '0'), 10n ** BigInt(digits.length)];
}

const FRACTION = /^(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*[/\u2044]\s*(\d+)$/;

/** A figure, whole and broken: "3/16", "1 3/16", "1-3/16" or a decimal. */
function figure(text, how) {
  const broken = FRACTION.exec(text);
  if (!broken) return decimal(text, how);
  const [, whole, top, bottom] = broken;
  if (BigInt(bottom) === 0n) return null;
  return [BigInt(whole || 0) * BigInt(bottom) + BigInt(top), BigInt(bottom)];
}

/** A fraction as the nearest whole number, half away from zero. */
export function rounded([top, bottom]) {
  const negative = top < 0n;
  const size = negative ? -top : top;
  const whole = (2n * size + bottom) / (2n * bottom);
  return negative ? -whole : whole;
}

const PART = /^([\d\s.,'/\u2044\u00a0\u202f\u2212-]+?)\s*(°?[a-zµμ][a-zµμ0-9²/]*|["\u2033\u201d]|'')?\s*$/iu;

/**
 * A typed figure to the stored whole number; null when it can't be read. Without a unit it is in the system's own; "12
 * ft 3 in",
 * `0.1875"` and `12' 3"` name theirs. `how`: the marks of the locale.
 */
export function parse(text, quantity, system, how = PLAIN) {
  const { units, [system]: own } = QUANTITIES[quantity];
  let rest = (quantity === 'share' ? text.replace(/\s*%\s*$/, '') : text).trim().replace(/(\d)\s*['\u2032\u2019](?=\s*($|\d))(?!\d{3}(?!\d))/gu, '$1 ft ');
  if (!rest) return null;
  let sum = [0n, 1n];
  let parts = 0;
  const pieces = rest.match(/[^a-zµμ"\u2033\u201d]+(?:[a-zµμ][a-zµμ0-9²/]*|["\u2033\u201d])?/giu);
  if (!pieces || pieces.join('') !== rest) return null;
  for (const piece of pieces) {
    if (!piece.trim()) continue;
    const found = PART.exec(piece.trim());
    if (!found) return null;
    const name = found[2] ? found[2].toLowerCase().replace(/["\u2033\u201d]/u, 'in') : null;
    if (!name && pieces.filter((p) => p.trim()).length > 1) return null;
    const size = units[name || own[0]];
    const value = size && figure(found[1].trim(), how);
    if (!value) return null;
    sum = [sum[0] * value[1] * size[1] + value[0] * size[0] * sum[1], sum[1] * value[1] * size[1]];
    parts += 1;
  }
  if (parts === 0) return null;
  const whole = Number(rounded(sum));
  return Number.isSafeInteger(whole) ? whole : null;
}

/** The stored whole number in a unit, rounded to so many decimals: a decimal text with '.', without needless zeros. */
function inUnit(stored, [top, bottom], decimals) {
  const scale = 10n ** BigInt(decimals);
  const value = rounded([BigInt(stored) * bottom * scale, top]);
  const negative = value < 0n;
  const digits = String(negative ? -value : value).padStart(decimals + 1, '0');
  const whole = decimals ? digits.slice(0, -decimals) : digits;
  const tail = decimals ? digits.slice(-decimals).replace(/0+$/, '') : '';
  return `${negative ? '-' : ''}${whole}${tail ? `.${tail}` : ''}`;
}

/** The figure one would type, with as many decimals as give back the stored number. */
export function typed(stored, quantity, system, how = PLAIN) {
  const {
    units,
    [system]: [unit, , , exact],
  } = QUANTITIES[quantity];
  return inUnit(stored, units[unit], exact).replace('.', how.decimal);
}

/** The figure as a person reads it, with its unit. `exact`: to the stored number's last digit. */
export function show(stored, quantity, system, locale, exact = false) {
  const {
    units,
    [system]: [unit, name, glance, most],
  } = QUANTITIES[quantity];
  let decimals = exact ? most : glance;
  const text = inUnit(stored, units[unit], most);
  if (!exact && Math.abs(Number(text)) < 10) decimals = Math.min(most, Math.max(decimals, 2));
  const value = inUnit(stored, units[unit], decimals);
  const figures = new Intl.NumberFormat(locale, { maximumFractionDigits: decimals }).format(value);
  return `${figures}\u00a0${name}`;
}

/**
 * A box's text to the stored number, given what the box was filled with: text left as it was gives the number it came
 * from, so that
 * nothing drifts by being looked at. Return: the number; null when it can't be read.
 */
export function reread(text, was, quantity, system, how = PLAIN) {
  if (was && text.trim() === was.text) return was.stored;
  return parse(text, quantity, system, how);
}

const DENSITY = 7850n; /* kg/m3 */
const PI = 3141592653589793n; /* times 10^15 */

/** Mass in g of round wire: length in mm, diameter in um. */
export function massOf(lengthMm, diameterUm) {
  const top = PI * BigInt(diameterUm) ** 2n * BigInt(lengthMm) * DENSITY;
  return Number(rounded([top, 4n * 10n ** 15n * 10n ** 12n]));
}

/** Length in mm of round wire: mass in g, diameter in um. */
export function lengthOf(massG, diameterUm) {
  const bottom = PI * BigInt(diameterUm) ** 2n * DENSITY;
  return Number(rounded([BigInt(massG) * 4n * 10n ** 27n, bottom]));
}
