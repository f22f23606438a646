// Chart: any property that was measured, over time or along a run, with limits, moving ranges and capability.

import { byId, el, facts, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { Control, patterns, remarks } from './control.js';
import { frame, trouble } from './frame.js';
import { KINDS_OF_LOT } from './forms.js';
import { limit, product, property, PROPERTIES, specLink, tensileGrade } from './measured.js';
import { link, sheet } from './parts.js';
import { suggest } from './suggest.js';
import { learnArea, t, term } from './words.js';

const CODES = ['machine', 'run', 'lot', 'heat', 'instrument', 'spec'];
const GRADES = [1370000, 1570000, 1770000, 1960000, 2160000];
const COUNTS = [50, 100, 500, 2000];
const FEW = 25; /* below that, limits and capability are a first look: common practice, no source */
const ROWS = 100;

const asked = new URLSearchParams(location.search);

/* --- the question --------------------------------------------------------------------------------------- */

function field(name, box, words = term('field', name)) {
  box.id = `ask-${name}`;
  box.name = name;
  return el('div', { class: 'field' }, el('label', { for: box.id }, words), box);
}

const select = (options, chosen) =>
  el(
    'select',
    null,
    options.map(([value, words]) => el('option', { value, selected: String(value) === chosen }, words)),
  );

const anything = () => ['', t('chart.any')];

function codeField(name) {
  const box = el('input', { class: 'code-in', maxlength: 40, value: asked.get(name) || '' });
  const node = field(name, box, name === 'spec' ? t('entry.spec') : t(`type.${name}`));
  if (name !== 'spec') suggest(box, { types: () => [name] });
  return node;
}

const inBox = (text) => (text ? new Date(text).toISOString().slice(0, 16) : '');
const outOfBox = (text) => (text ? `${text}:00Z` : '');

function timeField(name) {
  return field(name, el('input', { type: 'datetime-local', value: inBox(asked.get(name)) }), t('field.utc', { name: t(`question.${name}.label`) }));
}

function diameterField(name) {
  const stored = Number(asked.get(name));
  const box = el('input', { inputmode: 'decimal', value: stored ? fmt.typed(stored, 'diameter') : '' });
  return field(name, box, t('field.with-unit', { name: term('field', name), unit: fmt.unitOf('diameter') }));
}

function read(form) {
  const of = (name) => form.elements[name].value.trim();
  const diameter = (name) => (of(name) ? fmt.readQuantity(of(name), 'diameter') || '' : '');
  return {
    property: of('property'),
    by: of('by') === 'place' ? 'place' : '',
    ...Object.fromEntries(CODES.map((name) => [name, of(name).toUpperCase()])),
    kind: of('kind'),
    construction: of('construction'),
    grade: of('grade'),
    tensile_grade_kpa: of('tensile_grade_kpa'),
    diameter_from_um: diameter('diameter_from_um'),
    diameter_below_um: diameter('diameter_below_um'),
    since: outOfBox(of('since')),
    until: outOfBox(of('until')),
    limit: of('limit'),
  };
}

/** The question that was asked, in words. */
function inWords() {
  const get = (name) => asked.get(name);
  const diameter = (name) => fmt.diameter(Number(get(name)));
  if (!get('property')) return t('chart.ask');
  return [
    property(get('property')),
    ...CODES.filter(get).map((name) => `${name === 'spec' ? t('entry.spec') : t(`type.${name}`)} ${get(name)}`),
    get('kind') ? term('kind', get('kind')) : null,
    get('tensile_grade_kpa') ? t('measured.grade', { grade: tensileGrade(Number(get('tensile_grade_kpa'))) }) : null,
    get('construction'),
    get('grade'),
    ...(Number(get('diameter_below_um')) === Number(get('diameter_from_um')) + 1
      ? [diameter('diameter_from_um')]
      : [
          get('diameter_from_um') ? t('chart.from', { from: diameter('diameter_from_um') }) : null,
          get('diameter_below_um') ? t('chart.below', { below: diameter('diameter_below_um') }) : null,
        ]),
    get('since') ? t('question.since', { at: fmt.stamp(get('since')) }) : null,
    get('until') ? t('question.until', { at: fmt.stamp(get('until')) }) : null,
    get('by') === 'place' ? t('chart.by.place') : null,
  ]
    .filter(Boolean)
    .join(', ');
}

function question() {
  const properties = PROPERTIES.includes(asked.get('property')) || !asked.get('property') ? PROPERTIES : [asked.get('property'), ...PROPERTIES];
  const more = ['kind', 'construction', 'grade', 'tensile_grade_kpa', 'diameter_from_um', 'diameter_below_um', 'since', 'until'];
  const form = el(
    'form',
    {
      novalidate: true,
      submit: (event) => {
        event.preventDefault();
        location.href = api.url('chart.html', read(form));
      },
    },
    el(
      'div',
      { class: 'fields ask' },
      field('property', select(properties.map((p) => [p, property(p)]), asked.get('property')), t('chart.property')),
      field('by', select([['time', t('chart.by.time')], ['place', t('chart.by.place')]], asked.get('by')), t('chart.by')),
      field('limit', select(COUNTS.map((n) => [n, t('chart.last', { n })]), asked.get('limit') || '100'), t('chart.how-many')),
      CODES.slice(0, 2).map(codeField),
      CODES.slice(2).map(codeField),
    ),
    el(
      'details',
      { open: more.some((name) => asked.get(name)) },
      el('summary', null, t('chart.which')),
      el(
        'div',
        { class: 'fields ask' },
        field('kind', select([anything(), ...KINDS_OF_LOT.map((k) => [k, term('kind', k)])], asked.get('kind')), t('column.kind')),
        field(
          'tensile_grade_kpa',
          select([anything(), ...GRADES.map((g) => [g, tensileGrade(g)])], asked.get('tensile_grade_kpa')),
        ),
        diameterField('diameter_from_um'),
        diameterField('diameter_below_um'),
        field('construction', el('input', { value: asked.get('construction') || '' })),
        field('grade', el('input', { value: asked.get('grade') || '' }), t('chart.steel')),
        timeField('since'),
        timeField('until'),
      ),
    ),
    el('div', { class: 'actions' }, el('button', { class: 'main', type: 'submit' }, t('chart.draw'))),
  );
  return el(
    'section',
    { class: 'sheet' },
    el(
      'details',
      { class: 'question', open: !asked.get('property') },
      el('summary', null, el('strong', null, inWords()), el('span', { class: 'change' }, t('question.change'))),
      form,
    ),
  );
}

/* --- the answer ----------------------------------------------------------------------------------------- */

function said(answer) {
  const name = answer.property;
  const c = answer.chart;
  if (answer.points.length === 0) return el('p', null, t('chart.none'));
  return [
    el(
      'p',
      { class: 'headline' },
      t('chart.said', { n: answer.points.length, property: property(name) }),
      ' ',
      c ? t('chart.said.mean', { mean: fmt.computed(name, c.mean_milli) }) : t('chart.one'),
      ' ',
      c ? t('chart.said.beyond', { n: c.beyond }) : null,
      ' ',
      c ? t('chart.said.pattern', { n: answer.points.filter((p) => !p.beyond && p.rules.length > 0).length }) : null,
    ),
    answer.more ? el('p', { class: 'quiet' }, t('chart.more')) : null,
    answer.unplaced ? el('p', { class: 'quiet' }, t('chart.unplaced', { n: answer.unplaced })) : null,
    c && answer.points.length < FEW ? el('p', { class: 'quiet' }, t('chart.few', { n: FEW })) : null,
  ];
}

/** Unlike products on one chart: choose one of them. */
function unlike(answer) {
  if (answer.products.length < 2) return null;
  const only = (p) =>
    api.url('chart.html', {
      ...Object.fromEntries(asked),
      kind: p.kind,
      tensile_grade_kpa: p.tensile_grade_kpa,
      construction: p.construction,
      grade: p.grade,
      diameter_from_um: p.diameter_um,
      diameter_below_um: p.diameter_um ? p.diameter_um + 1 : null,
    });
  return el(
    'div',
    { class: 'warn' },
    el('p', null, el('strong', null, t('chart.unlike', { n: answer.products.length })), ' ', t('chart.unlike.what')),
    el(
      'ul',
      { class: 'links products' },
      answer.products.map((p) => el('li', null, el('a', { href: only(p) }, product(p)), ' ', t('chart.points', { n: p.points }))),
    ),
  );
}

function figures(answer) {
  const name = answer.property;
  const c = answer.chart;
  const k = answer.capability;
  if (!c) return null;
  return facts([
    [t('chart.mean'), fmt.computed(name, c.mean_milli)],
    [t('chart.limits'), t('from-to', { from: fmt.computed(name, c.lower_milli), to: fmt.computed(name, c.upper_milli) })],
    [t('chart.range-mean'), fmt.computed(name, c.range_mean_milli)],
    [t('chart.range-limit'), fmt.computed(name, c.range_upper_milli)],
    [
      t('chart.specified'),
      k ? [specLink(k.spec), ` ${t('measured.version', { n: k.version })}: ${limit(name, k)}`] : t(`chart.no-capability.${answer.no_capability}`),
    ],
    ['Cp', k && k.cp_milli !== null ? fmt.computed('', k.cp_milli) : null],
    ['Cpk', k && k.cpk_milli !== null ? fmt.computed('', k.cpk_milli) : null],
  ]);
}

const legend = () => {
  const one = (shape, words) => el('li', null, shape, words);
  const sign = (...kids) => {
    const node = el('span', { class: 'sign-box' });
    node.append(...kids);
    return node;
  };
  return el(
    'ul',
    { class: 'legend' },
    one(sign('\u25cf'), t('chart.legend.in')),
    one(sign('\u25b2\u25bc'), t('chart.legend.out')),
    one(sign('\u25c6'), t('chart.legend.pattern')),
    one(sign('\u2715'), t('chart.legend.failed')),
  );
};

/** The shape that the point has on the chart. */
const sign = (p) => (p.beyond === 'above' ? '\u25b2 ' : p.beyond ? '\u25bc ' : patterns(p).length ? '\u25c6 ' : '');

/** The patterns that were found, each with the results that complete it. */
function found(answer) {
  const met = (answer.chart?.rules || []).filter((r) => r.met > 0);
  if (met.length === 0) return null;
  const row = (rule) => {
    const points = answer.points.filter((p) => p.rules.includes(rule.rule));
    return [
      t(`chart.rule.${rule.rule}`),
      fmt.count(rule.met),
      [
        points.slice(0, FEW).map((p, i) => [i ? ', ' : '', link('test', p.test), ` ${fmt.figure(answer.property, p.value)}`]),
        points.length > FEW ? ` ${t('chart.rules.more', { n: points.length - FEW })}` : null,
      ],
    ];
  };
  return el(
    'div',
    { class: 'spaced' },
    sheet(
      'patterns-title',
      t('chart.rules'),
      el('div', null, table([t('chart.rules.pattern'), t('chart.rules.times'), t('chart.rules.tests')], met.map(row), { numbers: [1] })),
      el('p', { class: 'quiet' }, t('chart.rules.how', { source: met[0].source })),
    ),
  );
}

function pointTable(answer) {
  const name = answer.property;
  const rows = (answer.by === 'place' ? answer.points : [...answer.points].reverse()).slice(0, ROWS);
  return el(
    'div',
    null,
    table(
      [t('type.test'), t('type.lot'), t('column.when'), t('column.at'), property(name), t('chart.moving-range'), t('column.verdict'), t('chart.said-of-it')],
      rows.map((p) => [
        link('test', p.test),
        link('lot', p.lot),
        fmt.stamp(p.at),
        p.at_mm === null ? t('not-known') : fmt.lengthExact(p.at_mm),
        fmt.figure(name, p.value),
        p.moving_range === null ? '' : fmt.figure(name, p.moving_range),
        p.verdict ? el('span', { class: `verdict ${p.verdict}` }, t(`verdict.${p.verdict}`)) : t('verdict.open'),
        `${sign(p)}${remarks(p).join('; ')}`,
      ]),
      { caption: t(answer.by === 'place' ? 'chart.table.place' : 'chart.table'), numbers: [3, 4, 5] },
    ),
    answer.points.length > ROWS ? el('p', { class: 'quiet' }, t('chart.table.more', { n: ROWS })) : null,
  );
}

async function draw(place) {
  const query = Object.fromEntries(asked);
  if (!query.property) return;
  query.limit ||= '100';
  try {
    const answer = await api.chart(query);
    const drawing = el('div', { class: 'control', id: 'drawing' });
    put(
      place,
      said(answer),
      unlike(answer),
      answer.points.length === 0
        ? null
        : [
            sheet(
              'chart-title',
              property(answer.property),
              drawing,
              legend(),
              figures(answer),
              el(
                'div',
                { class: 'actions' },
                el('a', { class: 'button', href: api.url('/api/chart', { ...query, as: 'csv' }), download: 'chart.csv' }, t('save-csv')),
                el('button', { type: 'button', click: () => print() }, t('print')),
              ),
              el('p', { class: 'quiet' }, t('chart.how')),
            ),
            found(answer),
            el('div', { class: 'spaced' }, sheet('points-title', t('chart.results'), pointTable(answer))),
          ],
    );
    if (answer.points.length > 0)
      new Control(drawing, answer, (p) => {
        location.href = api.pageOf('lot', p.lot);
      });
  } catch (problem) {
    trouble(place, problem);
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

await learnArea('measured');
frame('chart');
const answerPlace = el('div', { class: 'spaced', id: 'answer', 'aria-live': 'polite' });
put(byId('chart'), question(), answerPlace);
draw(answerPlace);
