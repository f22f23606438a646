// Specifications: what each says, its versions side by side, and the form that makes the next one.

import { byId, el, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { limit, property, scope } from './measured.js';
import { link, sheet } from './parts.js';
import { specForm } from './specform.js';
import { learnArea, t, term } from './words.js';

const asked = new URLSearchParams(location.search);

/** Specifications by code, each with its versions, the newest first. */
function byCode(specs) {
  const codes = new Map();
  for (const s of specs) codes.set(s.spec, [s, ...(codes.get(s.spec) || [])]);
  return codes;
}

function list(codes) {
  return el(
    'nav',
    { class: 'sheet', 'aria-label': t('specs.list') },
    el('h2', null, t('specs.list')),
    el(
      'ul',
      { class: 'spec-list' },
      [...codes].map(([code, versions]) =>
        el(
          'li',
          null,
          el(
            'a',
            { href: api.url('specs.html', { spec: code }), 'aria-current': asked.get('spec') === code ? 'page' : null },
            el('span', { class: 'code' }, code),
            el('div', { class: 'quiet' }, scope(versions[0])),
          ),
        ),
      ),
    ),
    el('p', null, el('a', { class: 'button', href: 'specs.html?new=1' }, t('specs.new'))),
  );
}

function joints(s) {
  if (s.joint_multiple === null) return '';
  return s.joint_of_um === null
    ? t('specs.joints.apart', { n: s.joint_multiple })
    : t('specs.joints.of', { n: s.joint_multiple, of: fmt.diameter(s.joint_of_um) });
}

/** The rows of the comparison: [name, text of a version]. */
function rows(versions) {
  const limited = [...new Set(versions.flatMap((s) => Object.keys(s.limits)))].sort();
  return [
    [t('specs.scope'), scope],
    ...limited.map((name) => [property(name), (s) => (s.limits[name] ? limit(name, s.limits[name]) : t('measured.no-limit'))]),
    [t('specs.tests'), (s) => s.tests.map((x) => t(`specs.per.${x.per}`, { property: property(x.property), n: x.n })).join('; ')],
    [t('specs.retests'), (s) => (s.retests === null ? '' : t('specs.retests', { n: s.retests }))],
    [t('specs.joints'), joints],
    [t('field.heats'), (s) => (s.heats ? t(`specs.heats.${s.heats}`) : '')],
    [
      t('specs.tolerance'),
      (s) =>
        Object.entries(s.tolerance_ppm)
          .map(([process, ppm]) => `${term('process', process)} ${fmt.percent(ppm)}`)
          .join('; '),
    ],
    [t('field.source'), (s) => s.source || ''],
  ];
}

/** Side by side; what a version says otherwise than the one before it has a sign of its own. */
function compare(versions) {
  const before = (i) => versions[i + 1];
  const node = table(
    [t('specs.says'), ...versions.map((s) => `${t('measured.version', { n: s.version })}${s.stands ? ` (${t('specs.stands')})` : ''}`)],
    [
      ...rows(versions).map(([name, say]) => [name, ...versions.map((s) => say(s))]),
      [t('specs.recorded'), ...versions.map((s) => fmt.stamp(s.at))],
      [t('specs.entry'), ...versions.map((s) => link('entry', s.entry, t('entry-n', { seq: s.entry })))],
    ],
    { caption: t('specs.versions'), cls: 'versions' },
  );
  rows(versions).forEach(([, say], r) =>
    versions.forEach((s, i) => {
      if (before(i) && say(s) !== say(before(i)))
        node.querySelectorAll('tbody tr')[r].children[i + 1].classList.add('changed');
    }),
  );
  return node;
}

function charts(s) {
  return el(
    'p',
    { class: 'codes' },
    Object.keys(s.limits).map((name) =>
      el('a', { href: api.url('chart.html', { property: name, spec: s.spec }) }, t('specs.chart', { property: property(name) })),
    ),
  );
}

function one(code, versions) {
  const now = versions[0];
  return [
    sheet(
      'spec-title',
      [el('span', { class: 'code' }, code), ' ', scope(now)],
      /memory/i.test(now.source || '') ? el('p', { class: 'warn' }, t('specs.from-memory')) : null,
      compare(versions),
      charts(now),
      el('div', { class: 'actions' }, el('button', { type: 'button', click: () => print() }, t('print'))),
    ),
    el(
      'section',
      { class: 'sheet spaced no-print' },
      el(
        'details',
        null,
        el('summary', null, t('specs.alter')),
        el('p', { class: 'quiet' }, t('specs.alter.what')),
        specForm(now, () => location.reload()),
      ),
    ),
  ];
}

function fresh() {
  return sheet(
    'new-title',
    t('specs.new'),
    el('p', { class: 'quiet' }, t('specs.new.what')),
    specForm(null, (body) => {
      location.href = api.url('specs.html', { spec: body.spec });
    }),
  );
}

async function main() {
  const place = byId('specs');
  try {
    const codes = byCode((await api.specs()).specs);
    const code = asked.get('spec');
    const chosen = codes.get(code);
    if (chosen) document.title = t('title', { page: code });
    put(
      place,
      el(
        'div',
        { class: 'side' },
        list(codes),
        el(
          'div',
          null,
          chosen
            ? one(code, chosen)
            : asked.get('new')
              ? fresh()
              : el('p', null, t(codes.size === 0 ? 'specs.none' : 'specs.choose')),
        ),
      ),
    );
  } catch (problem) {
    trouble(place, problem);
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

await learnArea('measured');
frame('specs');
main();
