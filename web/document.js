// A certificate's document as it is printed: every figure beside the entry that it comes from. What it says in words
// (title, declaration, caution) is fixed in English, as on paper.

import { el, facts, table } from './dom.js';
import * as fmt from './format.js';
import { link } from './parts.js';
import { t, term } from './words.js';

const entry = (seq) => (seq ? link('entry', seq, `#${seq}`) : null);
const known = (value, say) => (value === undefined || value === null ? '' : say(value));
const english = (tag, text) => el(tag, { lang: 'en' }, text);
const part = (name, ...kids) => [el('h2', null, t(`document.${name}`)), kids];

function heading(d) {
  const customers = new Set(d.reels.map((r) => r.order?.customer || r.sent?.consignee).filter(Boolean));
  return [
    english('h2', `${d.title} ${d.type}`),
    el('p', null, `EN 10204:2004, ${t('certificate.type', { type: d.type })}`),
    facts([
      [t('field.certificate'), el('span', { class: 'code' }, d.certificate)],
      [t('document.issued'), fmt.stamp(d.issued)],
      [t('document.for'), [...customers].join(', ')],
      [t('document.replaces'), d.replaces ? link('certificate', d.replaces) : null],
      [t('column.entry'), entry(d.entry)],
    ]),
    english('p', d.declares),
  ];
}

function products(d) {
  return part(
    'products',
    table(
      [
        t('document.rope'),
        t('lot.construction'),
        t('lot.diameter'),
        t('lot.length'),
        t('lot.mass'),
        t('document.joints'),
        t('lot.order'),
        t('column.entry'),
      ],
      d.reels.map((r) => [
        link('lot', r.reel),
        r.construction || '',
        known(r.diameter_um, fmt.diameter),
        fmt.lengthExact(r.length_mm),
        known(r.mass_g, fmt.mass),
        fmt.count(r.joints.count),
        r.order ? [r.order.order, ' ', entry(r.order.entry)] : '',
        entry(r.entry),
      ]),
      { numbers: [2, 3, 4, 5, 7], caption: t('document.products') },
    ),
  );
}

function strength(d) {
  const rows = d.reels.filter((r) => r.wires || r.spec);
  if (rows.length === 0) return null;
  return part(
    'strength',
    el('p', { class: 'quiet' }, t('document.strength.what')),
    table(
      [
        t('document.rope'),
        t('document.spec'),
        t('document.minimum'),
        t('document.tested'),
        t('document.aggregate'),
        t('document.area'),
        t('column.entry'),
      ],
      rows.map((r) => [
        link('lot', r.reel),
        r.spec ? [`${r.spec.spec} v${r.spec.version} `, entry(r.spec.entry)] : '',
        known(r.spec?.minimum_n, (n) => fmt.figure('breaking_n', n)),
        known(r.wires, (w) =>
          t('document.of', { n: fmt.count(w.tested_milli / 1000), of: fmt.count(w.wires_milli / 1000) }),
        ),
        r.wires
          ? known(r.wires.aggregate_n, (n) => fmt.figure('breaking_n', n)) || t('document.not-all')
          : '',
        known(r.wires?.area_um2, (a) => `${fmt.count(a / 1e6)} mm²`),
        entry(r.entry),
      ]),
      { numbers: [2, 3, 4, 5, 6], caption: t('document.strength') },
    ),
  );
}

function limits(property, r) {
  const say = (value) => fmt.figure(property, value);
  if (r.min !== undefined && r.max !== undefined) return t('from-to', { from: say(r.min), to: say(r.max) });
  if (r.min !== undefined) return `≥ ${say(r.min)}`;
  return r.max !== undefined ? `≤ ${say(r.max)}` : t('none');
}

function verdict(test) {
  if (!test.verdict) return t('verdict.open');
  return [
    el('span', { class: `verdict ${test.verdict}` }, t(`verdict.${test.verdict}`)),
    test.conceded ? [' ', t('document.conceded'), ' ', entry(test.conceded)] : null,
  ];
}

function tests(d) {
  if (d.tests.length === 0) return null;
  return part(
    'tests',
    table(
      [
        t('type.test'),
        t('document.on'),
        t('document.property'),
        t('document.result'),
        t('document.limit'),
        t('document.margin'),
        t('type.instrument'),
        t('column.verdict'),
        t('column.entry'),
      ],
      d.tests.flatMap((test) =>
        test.results.map((r) => [
          link('test', test.test),
          link('lot', test.lot),
          term('field', r.property),
          el('a', { href: link('entry', test.entry).href, class: 'figure' }, fmt.figure(r.property, r.value)),
          [
            limits(r.property, r),
            test.spec ? [el('span', { class: 'soft' }, ` ${test.spec.spec} v${test.spec.version} `), entry(test.spec.entry)] : null,
          ],
          known(r.margin, (m) => fmt.figure(r.property, m)),
          test.instrument || '',
          verdict(test),
          entry(test.entry),
        ]),
      ),
      { numbers: [3, 5, 8], caption: t('document.tests') },
    ),
    d.tests_not_shown ? el('p', null, t('document.more-tests', { n: d.tests_not_shown })) : null,
  );
}

/* As mill certificates give them: 8233 ppm is 0.8233 %. */
const analysis = (heat) =>
  Object.entries(heat.analysis_ppm || {})
    .map(([element, ppm]) => `${element} ${(ppm / 10000).toFixed(4)}`)
    .join(', ');

function heats(d) {
  return part(
    'heats',
    table(
      [
        t('type.heat'),
        t('field.supplier'),
        t('field.grade'),
        t('field.mill_certificate'),
        t('document.analysis'),
        t('column.entry'),
      ],
      d.heats.map((h) => [
        link('heat', h.heat),
        h.supplier,
        h.grade,
        h.mill_certificate || '',
        analysis(h),
        entry(h.entry),
      ]),
      { numbers: [5], caption: t('document.heats') },
    ),
  );
}

function makeup(d) {
  return part(
    'makeup',
    table(
      [
        t('document.rope'),
        t('type.heat'),
        t('document.surely'),
        t('document.possibly'),
        t('document.where'),
        t('column.entry'),
      ],
      d.reels.flatMap((r) =>
        r.heats.map((h) => [
          link('lot', r.reel),
          link('heat', h.heat),
          fmt.length(h.certain_mm),
          fmt.length(h.possible_mm),
          h.places ? fmt.spans(h.places) : t('document.many-places'),
          entry(h.entry),
        ]),
      ),
      { numbers: [2, 3, 5], caption: t('document.makeup') },
    ),
  );
}

function concessions(d) {
  if (d.concessions.length === 0) return null;
  return part(
    'concessions',
    el(
      'ul',
      null,
      d.concessions.map((c) => el('li', null, link('hold', c.hold), ' ', c.reason, ' ', entry(c.entry))),
    ),
  );
}

function signatures(d) {
  return part(
    'signed',
    el(
      'div',
      { class: 'signatures' },
      el('p', null, el('strong', null, d.signed.name), d.signed.position ? [el('br'), d.signed.position] : null),
      d.countersigned
        ? el('p', null, el('strong', null, d.countersigned.name), el('br'), t('document.signed-for', { name: d.countersigned.for }))
        : d.type === '3.2'
          ? el('p', { class: 'soft' }, t('document.countersign'))
          : null,
    ),
  );
}

/** The document, drawn as it is printed. */
export function documentOf(d) {
  return [
    heading(d),
    products(d),
    strength(d),
    tests(d),
    heats(d),
    makeup(d),
    concessions(d),
    d.statement ? part('statement', el('p', { class: 'prose' }, d.statement)) : null,
    signatures(d),
    el(
      'div',
      { class: 'caution', lang: 'en' },
      d.caution.map((line) => el('p', null, line)),
    ),
  ];
}
