// Gaps: where the record is broken or weak, worst first, each with the way to mend it; how complete the record of what
// was sold is, month by month.

import { byId, el, put, svg, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { link } from './parts.js';
import { waiting } from './waiting.js';
import { learnArea, locale, t, term } from './words.js';

const PAGE = 100;
const MONTHS = 24;
const asked = new URLSearchParams(location.search);
const settings = { long_m: asked.get('long_m') || '', late_h: asked.get('late_h') || '' };

const percent = new Intl.NumberFormat(locale, { style: 'percent', maximumFractionDigits: 1 });
/** A share is rounded down, so that only what is whole is said to be 100 %. */
const share = (part, whole) => (whole === 0 ? t('not-known') : percent.format(Math.floor((part / whole) * 1000) / 1000));

/* --- the months ----------------------------------------------------------------------------------- */

function bars(months) {
  const shown = months.slice(-MONTHS);
  const wide = 900;
  const step = Math.min(wide / Math.max(shown.length, 1), 90);
  const high = 120;
  const named = (i) => step >= 45 || (shown.length - 1 - i) % 2 === 0; // side by side they would run into each other
  const one = (m, i) => {
    const x = i * step + step * 0.15;
    const width = step * 0.7;
    const of = (mm) => (m.sold_mm ? (high * mm) / m.sold_mm : 0);
    const rect = (cls, h) => svg('rect', { x, y: 10 + high - h, width, height: h, class: cls });
    return [
      rect('ground', high),
      rect('unbroken', of(m.unbroken_mm)),
      rect('whole', of(m.whole_mm)),
      svg('rect', { x, y: 10, width, height: high, class: 'edge' }),
      named(i)
        ? svg('text', { x: x + width / 2, y: high + 28, 'text-anchor': 'middle' }, step < 60 ? m.month.slice(2) : m.month)
        : null,
    ];
  };
  return svg(
    'svg',
    { class: 'bars', viewBox: `0 0 ${Math.max(step * shown.length, 560)} ${high + 36}`, 'aria-hidden': 'true' },
    shown.map(one),
  );
}

const swatch = (cls) =>
  svg('svg', { 'aria-hidden': 'true' }, svg('rect', { x: 0.5, y: 0.5, width: 27, height: 13, class: cls }));

function completeness(answer) {
  return el(
    'section',
    { class: 'sheet', 'aria-labelledby': 'months-title' },
    el('h2', { id: 'months-title' }, t('gaps.months')),
    answer.sold_mm === 0
      ? el('p', null, t('gaps.none-sold'))
      : [
          el('p', { class: 'big-share' }, share(answer.unbroken_mm, answer.sold_mm)),
          el('p', null, t('gaps.share', { sold: fmt.length(answer.sold_mm), whole: share(answer.whole_mm, answer.sold_mm) })),
          bars(answer.months),
          el(
            'ul',
            { class: 'legend' },
            el('li', null, swatch('swatch-whole'), t('gaps.whole')),
            el('li', null, swatch('swatch-unbroken'), t('gaps.weak')),
            el('li', null, swatch('swatch-ground'), t('gaps.broken')),
          ),
          el(
            'details',
            null,
            el('summary', null, t('gaps.as-table')),
            table(
              [t('gaps.month'), t('gaps.sold'), t('gaps.unbroken'), t('gaps.whole')],
              answer.months.map((m) => [
                m.month,
                fmt.length(m.sold_mm),
                share(m.unbroken_mm, m.sold_mm),
                share(m.whole_mm, m.sold_mm),
              ]),
              { numbers: [1, 2, 3] },
            ),
          ),
        ],
  );
}

/* --- the kinds ------------------------------------------------------------------------------------ */

function kindButton(k, answer, choose) {
  const part = answer.sold_mm ? k.under_mm / answer.sold_mm : 0;
  return el(
    'li',
    null,
    el(
      'button',
      { type: 'button', 'aria-pressed': 'false', 'data-kind': k.kind, click: () => choose(k.kind) },
      el('b', { class: k.gaps ? null : 'none' }, t(`gap.${k.kind}`)),
      el('span', { class: k.gaps ? 'num' : 'num none' }, fmt.count(k.gaps)),
      el('span', { class: k.gaps ? 'share' : 'share none' }, k.under_mm ? fmt.length(k.under_mm) : '\u2013'),
      svg(
        'svg',
        { class: 'bar', viewBox: '0 0 100 6', preserveAspectRatio: 'none', 'aria-hidden': 'true' },
        svg('rect', { x: 0, y: 1, width: 100, height: 4, fill: '#e4e8e3' }),
        svg('rect', { x: 0, y: 1, width: Math.max(100 * part, part ? 0.5 : 0), height: 4, fill: '#9c3712' }),
      ),
    ),
  );
}

function kinds(answer, choose) {
  const list = (broken) =>
    el(
      'ul',
      { class: 'gap-kinds' },
      answer.kinds.filter((k) => k.broken === broken).map((k) => kindButton(k, answer, choose)),
    );
  return el(
    'section',
    { class: 'sheet', 'aria-labelledby': 'kinds-title' },
    el('h2', { id: 'kinds-title' }, t('gaps.kinds')),
    el('p', { class: 'quiet' }, t('gaps.kinds.what')),
    el('h3', null, t('gaps.kinds.broken')),
    list(true),
    el('h3', null, t('gaps.kinds.weak')),
    list(false),
  );
}

/* --- the list ------------------------------------------------------------------------------------- */

/** How late, in the greatest whole unit. */
const lateness = (s) => (s >= 2 * 86400 ? t('gap.days', { n: Math.floor(s / 86400) }) : t('gap.hours', { n: Math.floor(s / 3600) }));

const SAYS = {
  'no-heat': (g) => t(`gap.no-heat.${g.detail}`),
  'heat-papers': (g) => t(`gap.heat-papers.${g.detail}`),
  'no-test': (g) => {
    if (g.detail === 'none') return t('gap.no-test.none');
    const [property, spec] = g.detail.split(' ');
    return t('gap.no-test.asked', { property: term('field', property), spec, n: g.figure });
  },
  balance: (g) => g.detail || t('gap.balance.unknown'),
  overtaken: (g) => t(`gap.overtaken.${g.detail}`),
  calibration: (g) => t(`gap.calibration.${g.detail}`, { n: g.figure }),
  finding: (g) => g.detail,
  proportion: (g) => t('gap.proportion.way', { length: fmt.length(g.figure) }),
  'no-times': (g) => t(`gap.no-times.${g.detail}`),
  late: (g) => {
    const [n, terminal, day] = g.detail.split(' ');
    return t('gap.late.says', { n: Number(n), by: g.code, terminal, day: fmt.day(day), late: lateness(g.figure) });
  },
  'put-right': (g) => g.detail.replace(/^(void|corrected): /, (whole, how) => `${t(`gap.put-right.${how}`)}: `),
};

const correct = (g) => ['gap.mend.correct', api.url('log.html', { kind: 'correct', seq: g.entry })];
const entry = (g) => ['gap.mend.entry', api.pageOf('entry', g.entry)];

const MENDS = {
  'no-heat': (g) => [correct(g)],
  'heat-papers': (g) => [correct(g)],
  'no-test': (g) => [['gap.mend.test', api.url('log.html', { kind: 'test', lot: g.code })]],
  balance: (g) => [correct(g)],
  overtaken: (g) => [['gap.mend.withdraw', api.pageOf('certificate', g.code)]],
  calibration: (g) => [['gap.mend.instrument', `${api.url('instruments.html', { instrument: g.code })}#record`]],
  finding: (g) => [
    ['gap.mend.note', api.url('log.html', { kind: 'note', about: `${g.type}:${g.code}` })],
    correct(g),
  ],
  proportion: (g) => [correct(g)],
  'no-times': (g) => [correct(g)],
  late: (g) => [['gap.mend.entries', api.url('ledger.html', { by: g.code })]],
  'put-right': (g) => [entry(g)],
};

/** What a gap is about: its page where it has one. */
function about(g) {
  if (g.kind === 'late') return null;
  if (!g.code) return link('entry', g.entry, t('entry-n', { seq: g.entry }));
  return [term('type', g.type), ' ', link(g.type, g.code)];
}

function row(g) {
  const traced = ['lot', 'run', 'heat', 'certificate', 'instrument', 'test'].includes(g.type) && g.code;
  return [
    el(
      'div',
      null,
      el('span', { class: 'tag' }, t(`gap.${g.kind}`)),
      ' ',
      about(g),
      el('small', null, SAYS[g.kind](g)),
    ),
    el(
      'div',
      null,
      el('strong', null, fmt.length(g.sold_mm)),
      el('small', null, t('lots', { n: g.lots })),
    ),
    el(
      'div',
      { class: 'mend' },
      MENDS[g.kind](g).map(([key, href]) => el('a', { href }, t(key))),
      traced ? el('a', { href: api.recallOf(g.type, g.code) }, t('gap.mend.recall')) : null,
    ),
  ];
}

/* --- the page ------------------------------------------------------------------------------------- */

function settingsForm(answer) {
  const box = (id, value) =>
    el(
      'div',
      { class: 'field' },
      el('label', { for: id }, t(`gaps.${id}`)),
      el('input', { id, name: id, inputmode: 'numeric', value }),
    );
  return el(
    'form',
    {
      class: 'filters',
      submit: (event) => {
        event.preventDefault();
        const given = new FormData(event.target);
        location.assign(api.url('gaps.html', { long_m: given.get('long_m').trim(), late_h: given.get('late_h').trim() }));
      },
    },
    box('long_m', answer.settings.long_mm / 1000),
    box('late_h', answer.settings.late_s / 3600),
    el('button', { type: 'submit' }, t('gaps.look')),
  );
}

function draw(answer) {
  let kind = null;
  let asking = 0;
  const list = el('div', null);
  const said = el('p', { class: 'quiet', 'aria-live': 'polite' });
  const more = el('button', { type: 'button', hidden: true, click: () => show(true) }, t('gaps.more'));
  let rows = [];
  let after = null;

  function fill(page, add) {
    rows = add ? [...rows, ...page.gaps] : page.gaps;
    after = page.after;
    more.hidden = after === null;
    put(said, t('gaps.shown', { n: rows.length, all: page.count }));
    put(
      list,
      rows.length === 0
        ? el('p', null, t('gaps.none'))
        : table([t('gaps.column.what'), t('gaps.column.sold'), t('gaps.column.mend')], rows.map(row), {
            numbers: [1],
            cls: 'gap-list',
          }),
    );
  }

  async function show(add) {
    const mine = (asking += 1);
    try {
      const page = await api.gaps({ ...settings, kind, limit: PAGE, after: add ? after : null });
      if (mine === asking) fill(page, add);
    } catch (problem) {
      if (mine === asking) trouble(list, problem);
    }
  }

  function choose(name) {
    kind = kind === name ? null : name;
    for (const b of document.querySelectorAll('.gap-kinds button')) {
      b.setAttribute('aria-pressed', String(b.dataset.kind === kind));
    }
    put(byId('kind-what'), kind ? t(`gap.${kind}.what`) : t('gaps.all.what'));
    show(false);
  }

  put(
    byId('answer'),
    el('p', { class: 'head-line' }, el('span', null, t('at-head', { size: answer.ledger.size })), el('span', { class: 'code', title: answer.ledger.root }, fmt.shortHash(answer.ledger.root))),
    el('div', { class: 'two' }, completeness(answer), kinds(answer, choose)),
    el(
      'section',
      { class: 'sheet spaced', 'aria-labelledby': 'list-title' },
      el('h2', { id: 'list-title' }, t('gaps.list')),
      el('p', { id: 'kind-what' }, t('gaps.all.what')),
      el(
        'div',
        { class: 'actions' },
        el('button', { type: 'button', click: () => print() }, t('print')),
        el('a', { class: 'button', href: api.url('/api/gaps', settings), id: 'csv', click: saveCsv }, t('save-csv')),
      ),
      said,
      list,
      el('div', { class: 'actions' }, more),
      settingsForm(answer),
    ),
  );
  fill(answer, false);
}

async function saveCsv(event) {
  event.preventDefault();
  const text = await api.getText('/api/gaps', settings, 'text/csv');
  const place = URL.createObjectURL(new Blob([text], { type: 'text/csv' }));
  el('a', { href: place, download: 'gaps.csv' }).click();
  setTimeout(() => URL.revokeObjectURL(place), 10000);
}

await learnArea('audit');
frame('audit');
put(byId('answer'), el('p', { class: 'quiet' }, t('gaps.looking')));
const over = waiting(byId('answer'), 'gaps.looking.far');
try {
  draw(await api.gaps({ ...settings, limit: PAGE }));
} catch (problem) {
  trouble(byId('answer'), problem);
} finally {
  over();
}
