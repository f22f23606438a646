// On a lot's page: its joints by strand, drawn along the length, and the pairs that lie nearer to each other than the
// order or the specification allows.

import { el, put, svg, table } from './dom.js';
import * as fmt from './format.js';
import { specLink } from './measured.js';
import { link, sheet } from './parts.js';
import { anywhere } from './ribbon.js';
import { wayIn } from './said.js';
import { t } from './words.js';

const ROW = 22;
const MOST = 100; /* strands: beyond, the ribbon and its table say it better */
const PAIRS = 200;
const FEW = 8;

/** The strand a joint lies in: the ways in down to where its wire was laid. "" where the lot is that strand. */
const strandOf = (j) => j.path.filter((step) => !step.startsWith('strand ')).join(', ');
const wireOf = (j) => j.path.find((step) => step.startsWith('strand '))?.slice('strand '.length);

/** "close 3" before "close 12" */
const inOrder = (a, b) => a.localeCompare(b, 'en', { numeric: true });

function draw(place, joints, length, near) {
  const strands = [...new Set(joints.map(strandOf))].sort(inOrder).slice(0, MOST);
  const width = Math.max(place.clientWidth, 240);
  const gutter = Math.min(150, width / 4);
  const x = (mm) => gutter + (mm / Math.max(length, 1)) * (width - gutter - 10);
  const row = (strand, i) => {
    const y = 6 + i * ROW + ROW / 2;
    return [
      svg('text', { class: 'row-name', x: 0, y: y + 4 }, strand ? wayIn(strand) : t('joints.own-strand')),
      svg('line', { class: 'rail', x1: gutter, x2: x(length), y1: y, y2: y }),
      joints
        .filter((j) => strandOf(j) === strand)
        .map((j) => [
          anywhere(j, length)
            ? null
            : svg('rect', { class: 'range', x: x(j.possible[0]), y: y - 4, height: 8, width: Math.max(x(j.possible[1]) - x(j.possible[0]), 1) }),
          j.at_mm === null
            ? null
            : svg(
                'path',
                {
                  class: near.has(j.weld) ? 'near' : 'joint',
                  d: near.has(j.weld)
                    ? `M${x(j.at_mm)} ${y - 9}L${x(j.at_mm) + 8} ${y + 6}L${x(j.at_mm) - 8} ${y + 6}Z`
                    : `M${x(j.at_mm)} ${y - 6}L${x(j.at_mm) + 5} ${y}L${x(j.at_mm)} ${y + 6}L${x(j.at_mm) - 5} ${y}Z`,
                },
                svg('title', null, [j.weld, wireOf(j), fmt.lengthExact(j.at_mm)].filter(Boolean).join(', ')),
              ),
        ]),
    ];
  };
  const height = 12 + strands.length * ROW + 22;
  put(
    place,
    svg(
      'svg',
      { class: 'joint-map', viewBox: `0 0 ${width} ${height}`, height, 'aria-hidden': 'true' },
      strands.map(row),
      svg('text', { class: 'tick-name', x: gutter, y: height - 6 }, fmt.length(0)),
      svg('text', { class: 'tick-name', x: width - 10, y: height - 6, 'text-anchor': 'end' }, fmt.length(length)),
    ),
  );
}

function asksFor(d) {
  const by = el('span');
  put(by, d.order ? t('joints.order', { order: d.order }) : [specLink(d.spec), ` ${t('measured.version', { n: d.version })}`]);
  const [before, after] = t('joints.near.rule', { by: '\u0000', gap: fmt.short(d.gap_mm) }).split('\u0000');
  return el('p', null, before, by, after);
}

function pairs(list) {
  const count = (sure) => list.filter((p) => p.sure === sure).length;
  const said = ['surely', 'possibly'].filter((sure) => count(sure) > 0).map((sure) => t(`joints.near.${sure}`, { n: count(sure) }));
  return [
    el('p', { class: count('surely') > 0 ? 'warn' : null }, `${said.join('; ')}.`),
    el('details', { open: list.length <= FEW }, el('summary', null, t('joints.pairs')), table(
      [t('joints.pair'), t('joints.strand'), t('joints.gap'), t('joints.sure')],
      [...list]
        .sort((a, b) => (a.sure < b.sure ? 1 : a.sure > b.sure ? -1 : 0))
        .slice(0, PAIRS)
        .map((p) => [
          [link('weld', p.a), ' ', link('weld', p.b)],
          p.strand ? wayIn(p.strand) : t('joints.own-strand'),
          p.gap_mm === null ? t('not-known') : fmt.short(p.gap_mm),
          `${p.sure === 'surely' ? '\u25b2' : '\u25b3'} ${t(`joints.${p.sure}`)}`,
        ]),
      { numbers: [2] },
    )),
    list.length > PAIRS ? el('p', { class: 'quiet' }, t('and-more', { n: list.length - PAIRS })) : null,
  ];
}

/** The sheet, for a lot that has joints or a rule for them. */
export function jointSheet(lot, joints) {
  if (joints.joints.length === 0) return null;
  const place = el('div');
  const loose = joints.joints.filter((j) => anywhere(j, joints.length_mm)).length;
  const near = new Set(joints.near.filter((p) => p.sure === 'surely').flatMap((p) => [p.a, p.b]));
  new ResizeObserver(() => draw(place, joints.joints, joints.length_mm, near)).observe(place);
  return sheet(
    'joints-title',
    t('joints.map'),
    el('p', { class: 'quiet' }, t('joints.map.what'), loose > 0 ? ` ${t('joints.loose', { n: loose })}` : null),
    place,
    joints.distance
      ? [
          el('h3', null, t('joints.near')),
          asksFor(joints.distance),
          joints.near.length === 0 ? el('p', null, t('joints.near.none')) : pairs(joints.near),
        ]
      : null,
  );
}
