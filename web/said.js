// A finding or a refusal in the reader's language and units: the words of this page with the values that the server gives
// beside its own sentence. What has no words here, or no values, is said in the server's sentence.

import * as fmt from './format.js';
import { known, language, learnArea, locale, t, term } from './words.js';

await learnArea('said');

const percent = new Intl.NumberFormat(locale, { style: 'percent', minimumFractionDigits: 2 });
const signed = new Intl.NumberFormat(locale, { style: 'percent', minimumFractionDigits: 2, signDisplay: 'always' });

/* Who has taken a length, as the ledger names them; several are apart by commas. */
const CLAIMS = [
  ['run', /^run ([A-Z0-9./-]+)/],
  ['test', /^the sample of test ([A-Z0-9./-]+)/],
  ['consignment', /^consignment ([A-Z0-9./-]+), which has left/],
  ['scrap', /^scrap \(entry (\d+)\)/],
];

function claims(text) {
  const said = [];
  for (let rest = text; rest; rest = rest.replace(/^, /, '')) {
    const found = CLAIMS.map(([what, pattern]) => [what, pattern.exec(rest)]).find(([, match]) => match);
    if (!found) return text;
    const [what, match] = found;
    said.push(t(`claim.${what}`, { code: match[1], seq: match[1] }));
    rest = rest.slice(match[0].length);
  }
  return said.join(', ');
}

/** The way down to a strand or a wire as the ledger writes it, "close 3, strand 12", in the reader's language. */
export const wayIn = (text) =>
  text
    .split(', ')
    .map((step) => step.replace(/^[a-z]+/, (process) => term('process', process)))
    .join(', ');

/** Behind the code of a lot, the way down to one strand of it: "close 3, wind 1" of the ledger; nothing where it is that strand. */
const strand = (text) => text && ` (${wayIn(text)})`;

/** One value, by its name. `values`: all of them, since a figure may be of the property that another names. */
function shown(name, value, values) {
  if (name === 'a' || name === 'b' || name === 'of' || name === 'parameter')
    return typeof value === 'number' ? value : term('field', value);
  if (name === 'type') return term('type', value);
  if (values.as === 'number' && ['n', 'min', 'max'].includes(name)) return fmt.figure(values.member, value);
  if (name === 'kind') return known(`kind.${value}`) ? t(`kind.${value}`) : term('entry', value);
  if (name === 'by') return claims(value);
  if (name === 'said') return term('verdict', value);
  if (name === 'process') return term('process', value);
  if (name === 'disposition') return term('disposition', value);
  if (name === 'strand') return strand(value);
  if (name === 'into') return value ? value.split(',').map((p) => term('process', p)).join(', ') : t('said.any-but-cut');
  if (name === 'property') return term('field', value);
  if ((name === 'value' || name === 'beyond') && values.property) return fmt.figure(values.property, value);
  if (name.endsWith('_at')) return fmt.stamp(value);
  if (name === 'off_ppm') return signed.format(value / 1e6);
  if (name.endsWith('_ppm')) return percent.format(value / 1e6);
  if (typeof value === 'number' && /_(mm|um|g|n|kpa|mg_m2)$/.test(name)) return fmt.figure(name, value);
  return name.endsWith('seq') ? String(value) : value;
}

/** What a pointer is about, as a form names it: "Feeds, in order 2: Lot". */
export function fieldOf(pointer) {
  const steps = String(pointer || '')
    .split('/')
    .slice(1)
    .map((s) => s.replaceAll('~1', '/').replaceAll('~0', '~'))
    .filter((s) => s !== 'body');
  const name = (i) => (/^\d+$/.test(steps[i]) ? `${term('field', steps[i - 1] || '')} ${Number(steps[i]) + 1}` : term('field', steps[i]));
  const last = steps.length - 1;
  if (last < 0) return t('said.entry');
  return last > 0 && /^\d+$/.test(steps[last - 1]) ? `${name(last - 1)}: ${name(last)}` : name(last);
}

function sentence(group, code, given, otherwise, pointer = null) {
  const key = `${group}.${code}.${given?.as || 'says'}`;
  if (!given || !known(key)) return otherwise;
  const values = { ...given, field: fieldOf(pointer) };
  if (values.as === 'number') values.member = String(pointer || '').split('/').findLast((s) => !/^\d+$/.test(s)) || '';
  return t(key, Object.fromEntries(Object.entries(values).map(([name, value]) => [name, shown(name, value, values)])));
}

/** The short words for what is odd. */
export const findingWords = (finding) =>
  known(`finding.${finding.code}`) ? t(`finding.${finding.code}`) : t('finding.other');

/** What is odd, in a sentence. */
export function findingText(finding) {
  const { values, text } = finding;
  const said = sentence('finding', finding.code, values, null);
  if (said === null) return text;
  return values.accepted ? t('finding.accepted', { text: said, reason: values.accepted }) : said;
}

/** Whether somebody went on in spite of it, with a reason. */
export const isAccepted = (finding) => Boolean(finding.values?.accepted) || /; accepted: /.test(finding.text);

/** What is missing for a certificate, or has to be known by whoever signs it, in a sentence. */
export const lackText = (lack) => sentence('lack', lack.code, lack.values, lack.text);

const LACKS_AT_ONCE = 5;

/** Of a certificate that was refused, what is missing: the first of it. */
function lacksText(lacks) {
  const rest = lacks.length - LACKS_AT_ONCE;
  return [...lacks.slice(0, LACKS_AT_ONCE).map(lackText), ...(rest > 0 ? [t('and-more', { n: rest })] : [])].join(' ');
}

/** The short words for a refusal, by the last part of its problem type. */
export const problemWords = (slug) => (known(`bar.${slug}`) ? t(`bar.${slug}`) : t('bar.other'));

/** Why something was refused, in a sentence. `problem`: {slug, values} and the server's own sentence, message or text. */
export function problemText(problem) {
  if (problem.status === 0) return t('no-answer');
  if (problem.slug === 'not-complete' && problem.missing?.length > 0) return lacksText(problem.missing);
  const text = problem.message || problem.text;
  const plain = language === 'en' ? text : t('bar.in-english', { words: problemWords(problem.slug), text });
  const said = sentence('bar', problem.slug, problem.values, plain, problem.pointer);
  const unfit = problem.values?.unfit_seq;
  return unfit && said !== plain ? t('bar.unfit', { seq: unfit, text: said }) : said;
}
