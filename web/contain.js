// Containment: what has to be contained of an answer, where it is and who has it.

import { openMarks, standing } from './certified.js';
import { el, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { toHold } from './hold.js';
import { link } from './parts.js';
import { t } from './words.js';

const MOST_PAPERS = 200;

function places(rows) {
  const by = new Map();
  for (const row of rows) {
    const place = row.location || t('no-place');
    const sum = by.get(place) || { lots: 0, mm: 0, held: 0 };
    sum.lots += 1;
    sum.mm += row.affected_left_mm ?? row.left_mm;
    if (row.state === 'on-hold') sum.held += 1;
    by.set(place, sum);
  }
  return [...by].sort((a, b) => b[1].mm - a[1].mm);
}

/** What is still in the mill, by place; `complete` once all rows are there, `hold` puts all of it on hold. */
export function stillHere(answer, rows, complete, hold) {
  const n = answer.containment.count;
  const left = rows.filter((r) => r.left_mm > 0);
  const affected = left.filter((r) => (r.affected_left_mm ?? r.left_mm) > 0);
  const known = places(affected);
  const some = complete && toHold(rows).length > 0;
  const held = some && affected.every((r) => r.state === 'on-hold');
  const parts =
    n === 0
      ? el('p', null, t('contain.none'))
      : [
          el(
            'div',
            { class: 'actions' },
            el(
              'button',
              { type: 'button', class: held ? null : 'stop', id: 'hold-all', disabled: !some, click: hold },
              t('contain.hold-all'),
            ),
            held ? el('strong', null, t('contain.all-held')) : null,
            complete && !some ? el('span', { class: 'quiet' }, t('contain.none-affected')) : null,
          ),
          table(
            [t('contain.place'), t('contain.lots'), t('contain.length'), t('contain.held')],
            known.slice(0, 12).map(([place, sum]) => [place, fmt.count(sum.lots), fmt.length(sum.mm), fmt.count(sum.held)]),
            { numbers: [1, 2, 3] },
          ),
          known.length > 12 ? el('p', { class: 'quiet' }, t('and-more', { n: known.length - 12 })) : null,
          left.length > affected.length ? el('p', { class: 'quiet' }, t('contain.rest', { n: left.length - affected.length })) : null,
          complete ? null : el('p', { class: 'quiet' }, t('loading')),
        ];
  return [el('h2', { id: 'here-title' }, t('contain.here', { n })), parts];
}

/** Who has what: consignments by consignee. */
export function goneOut(answer) {
  const by = new Map();
  for (const c of answer.containment.consignments) by.set(c.consignee, [...(by.get(c.consignee) || []), c]);
  const lots = (list) => list.reduce((sum, c) => sum + c.reels.length, 0);
  const sent = (c) =>
    el(
      'li',
      null,
      link('consignment', c.consignment),
      ' ',
      el('span', { class: 'soft' }, t('contain.sent', { at: fmt.day(c.at) })),
      el(
        'div',
        { class: 'codes' },
        c.reels.map((reel) => link('lot', reel)),
      ),
    );
  return [
    el('h2', { id: 'out-title' }, t('contain.out', { n: lots(answer.containment.consignments) })),
    by.size === 0
      ? el('p', null, t('contain.out.none'))
      : [...by]
          .sort((a, b) => lots(b[1]) - lots(a[1]))
          .map(([consignee, list], i) =>
            el(
              'details',
              { open: i === 0 && lots(list) < 40 },
              el('summary', null, consignee, el('span', { class: 'count' }, t('lots', { n: lots(list) }))),
              el('ul', { class: 'links' }, list.map(sent)),
            ),
          ),
  ];
}

/** Beside a certificate, how it stands: what is recalled is marked until it is withdrawn or cleared. */
async function say(codes, items) {
  try {
    const { certificates } = await api.certificates({ codes: codes.join(',') });
    certificates.forEach((c, i) =>
      put(
        items[i],
        link('certificate', c.certificate),
        ' ',
        standing(c.state),
        c.state === 'marked' ? [' ', openMarks(c).map((m) => [link(m.about.type, m.about.code), ' '])] : null,
      ),
    );
  } catch {
    // The certificates are listed all the same; each has a page that says how it stands.
  }
}

/** The certificates in force that speak of affected lots. */
export function papers(rows) {
  const named = [...new Set(rows.flatMap((row) => row.certificates || []))].sort();
  if (named.length === 0) return null;
  const items = named.map((code) => el('li', null, link('certificate', code)));
  say(named.slice(0, MOST_PAPERS), items);
  return [
    el('h3', null, t('contain.certificates', { n: named.length })),
    el('ul', { class: 'links papers', id: 'papers' }, items),
  ];
}
