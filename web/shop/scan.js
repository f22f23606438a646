// What a hand scanner typed. Most scanners are keyboards to the computer: they press the keys of a code one after the
// other, and may put a mark of their own before it.
//
// - The mark (symbology identifier, ISO/IEC 15424: "]C1" for GS1-128, "]d2" for a GS1 Data Matrix, "]C0", "]d1", ...)
//   is taken off. With it a scan is told from typing for sure: it never becomes a figure.
// - A supplier's GS1 label says many things at once. The lot (10) is what is meant, else the serial number (21), else
//   the shipping container (00). Application identifiers of a fixed length: values from memory.
// - Blanks and control characters at the ends, and lower case, are the scanner's, not the code's.
// - A scanner that was set to another country's keyboard than the computer types other characters: "-" becomes "\u00df" on a
//   German one. What has a character that no code has is read back by the layouts below; a person compares it with the
//   label before it counts, since letters may have changed places too.

const MARK = /^\][A-Za-z][0-9A-Za-z]/;
const GS1 = /^\](?:C1|d2|Q3|e0|J1)/;
const FIXED = { '00': 18, '01': 14, '02': 14, 11: 6, 12: 6, 13: 6, 15: 6, 16: 6, 17: 6, 20: 2 };
const WANTED = ['10', '21', '00'];

/* What the keys of a US keyboard give on another one (xkeyboard-config: us, de, es, fr), as [typed there, meant]. */
const pairs = (there, meant) => [...there].map((c, i) => [c, meant[i]]);
const LAYOUTS = {
  de: new Map(pairs('\u00df-zyZY?', '-/yzYZ-')),
  es: new Map(pairs("'-?", '-/-')),
  fr: new Map(pairs('&\u00e9"\'(-\u00e8_\u00e7\u00e0);:!qazwQAZW,?\u00b0', '1234567890-,./aqwzAQWZmM-')),
};

/** Parts of a GS1 message by application identifier; null when it does not read as one. */
function parts(text) {
  const found = {};
  if (/^\(\d{2,4}\)/.test(text)) {
    for (const [, ai, value] of text.matchAll(/\((\d{2,4})\)([^(]*)/g)) found[ai] = value;
    return found;
  }
  for (let rest = text.replace(/^\u001d/, ''); rest; ) {
    const ai = rest.slice(0, 2);
    const long = FIXED[ai];
    const end = rest.indexOf('\u001d');
    const value = long ? rest.slice(2, 2 + long) : rest.slice(2, end < 0 ? undefined : end);
    if (!/^\d\d$/.test(ai) || value === '' || (long && value.length < long)) return null;
    found[ai] = value;
    rest = rest.slice(2 + value.length).replace(/^\u001d/, '');
  }
  return found;
}

/** The characters as they were meant, without the scanner's own: { text, marked: whether a scanner says that it sent it }. */
export function bare(typed) {
  const trimmed = typed.replace(/^[\s\u0000-\u001c\u007f]+|[\s\u0000-\u001f\u007f]+$/g, '');
  const marked = MARK.test(trimmed);
  const text = marked ? trimmed.replace(MARK, '').trim() : trimmed;
  const said = GS1.test(trimmed) || /^\(\d{2,4}\)/.test(text) ? parts(text) : null;
  const one = said && WANTED.map((ai) => said[ai]).find(Boolean);
  return { text: (one || text).trim(), marked };
}

/* Looked at as typed: in capitals "\u00df" would become two letters that are in codes. */
const CODE = /^[A-Za-z0-9./-]{1,40}$/;

const ADDRESS = /^https?:\/\//i;

/** As the ledger keeps it, or null when it can't be a code. */
export function codeOf(typed) {
  const { text } = bare(typed);
  return CODE.test(text) ? text.toUpperCase() : null;
}

/** What the code would be if the scanner typed as on another keyboard: [{layout, code}], the likely ones. */
export function otherwise(typed) {
  const { text } = bare(typed);
  if (ADDRESS.test(text)) return [];
  return Object.entries(LAYOUTS)
    .filter(([, map]) => [...text].some((c) => map.has(c) && !CODE.test(c)))
    .map(([layout, map]) => ({ layout, code: [...text].map((c) => map.get(c) ?? c).join('') }))
    .filter(({ code }) => CODE.test(code))
    .map(({ layout, code }) => ({ layout, code: code.toUpperCase() }));
}

/** Why it can't be a code: the key of the words. */
export function whyNot(typed) {
  const { text } = bare(typed);
  if (ADDRESS.test(text)) return 'scan.address';
  if (/^[A-Z0-9./-]{41,}$/i.test(text)) return 'scan.too-long';
  return /\s/.test(text) ? 'scan.blank' : 'scan.no-code';
}
