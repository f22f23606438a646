// Find: one box that takes anything typed or scanned and goes to its page; beside it what needs attention now.

import { standing } from './certified.js';
import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { inOrder } from './flow.js';
import { frame, trouble } from './frame.js';
import { suggest } from './suggest.js';
import { fewWords, link } from './parts.js';
import { findingText } from './said.js';
import { t, term } from './words.js';

const go = (found) => location.assign(api.pageOf(found.type, found.code));

function showFound(answer) {
  if (answer.found.length === 0)
    return put(byId('found'), el('div', { class: 'warn' }, t('find.nothing', { q: answer.q })));
  return put(
    byId('found'),
    el('h3', null, t('find.several', { n: answer.found.length, q: answer.q })),
    el(
      'ul',
      { class: 'links' },
      answer.found.map((f) =>
        el(
          'li',
          null,
          link(f.type, f.code),
          ' ',
          el('span', { class: 'tag' }, term('type', f.type)),
          ' ',
          el('span', { class: 'soft' }, fewWords(f)),
          f.state && f.state !== 'stands' ? [' ', standing(f.state)] : null,
        ),
      ),
    ),
  );
}

/** Where a code leads: to its page when it is one thing, to a list when it may be several. */
async function search(q) {
  if (q === '') return;
  try {
    const answer = await api.find(q);
    const exact = answer.found.filter((f) => f.exact);
    if (exact.length === 1) go(exact[0]);
    else if (exact.length === 0 && answer.found.length === 1) go(answer.found[0]);
    else {
      history.replaceState(null, '', api.url('index.html', { q }));
      showFound(answer);
      byId('q').select();
    }
  } catch (problem) {
    trouble(byId('found'), problem);
  }
}

const heading = (key, n) => el('h3', null, t(key), el('span', { class: n ? 'count' : 'count none' }, fmt.count(n)));

function group(key, list, draw, linkAll = null) {
  return [
    heading(key, list.length),
    list.length === 0
      ? el('p', { class: 'quiet' }, t(`${key}.none`))
      : el(
          'ul',
          { class: 'links' },
          list.slice(0, 8).map((item) => el('li', null, draw(item))),
        ),
    list.length > 8 ? el('p', { class: 'quiet' }, t('and-more', { n: list.length - 8 })) : null,
    linkAll,
  ];
}

/** null: the server has just started and is still counting. */
function stockOf(stock) {
  if (stock === null) return el('p', { class: 'quiet', role: 'status' }, t('find.stock.counting'));
  if (stock.length === 0) return el('p', { class: 'quiet' }, t('find.stock.none'));
  return el(
    'div',
    { class: 'stock' },
    inOrder(stock).map((s) =>
      el(
        'div',
        null,
        el('span', { class: 'soft' }, term('kind', s.kind)),
        el('strong', null, fmt.count(s.lots)),
        el('span', { class: 'quiet' }, fmt.length(s.left_mm)),
        el('br'),
        el('span', { class: 'quiet' }, fmt.mass(s.left_g)),
      ),
    ),
  );
}

function showAttention(now) {
  const held = (h) => [
    link('hold', h.hold),
    ' ',
    el('span', { class: 'state on-hold' }, t('lots', { n: h.lots })),
    ' ',
    fmt.length(h.left_mm),
    el('div', { class: 'soft' }, h.reason),
    el('div', { class: 'quiet' }, fmt.stamp(h.at)),
  ];
  const failed = (f) => [
    link('test', f.test),
    ' ',
    el('span', { class: 'verdict fail' }, t('verdict.fail')),
    ' ',
    link('lot', f.lot),
    el('div', { class: 'quiet' }, fmt.stamp(f.at)),
  ];
  const finding = (f) => [
    el('a', { href: api.pageOf('entry', f.seq) }, t('entry-n', { seq: f.seq })),
    ' ',
    findingText(f),
    el('div', { class: 'quiet' }, fmt.stamp(f.at)),
  ];
  put(
    byId('attention'),
    group('attention.holds', now.holds, held),
    group('attention.failed', now.failed_tests, failed),
    group('attention.findings', now.findings, finding),
  );
  put(byId('stock'), stockOf(now.stock));
  put(
    byId('last'),
    now.last.length === 0
      ? el('p', { class: 'quiet' }, t('find.last.none'))
      : el(
          'ul',
          { class: 'links' },
          now.last.map((e) =>
            el(
              'li',
              null,
              el('a', { href: api.pageOf('entry', e.seq) }, term('entry', e.kind)),
              ' ',
              el('span', { class: 'code' }, e.what),
              el('div', { class: 'quiet' }, t('by-at', { by: e.by, at: fmt.stamp(e.at) })),
            ),
          ),
        ),
  );
}

async function main() {
  frame('find');
  const box = byId('q');
  const list = suggest(box, { chosen: go });
  box.focus();
  byId('find').addEventListener('submit', (event) => {
    event.preventDefault();
    list.close();
    search(box.value.trim());
  });
  const asked = new URLSearchParams(location.search).get('q');
  if (asked) {
    box.value = asked;
    search(asked.trim());
  }
  await lookAfter();
}

const COUNTED_MS = 5000; // until a stock that was still being counted is asked for again

async function lookAfter() {
  try {
    const now = await api.attention();
    showAttention(now);
    if (now.stock === null) setTimeout(lookAfter, COUNTED_MS);
  } catch (problem) {
    trouble(byId('attention'), problem);
  }
}

main();
