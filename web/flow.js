// The stages of the mill that an answer reached, drawn as a flow from rod to reel: as high as there are lots, solid for
// certain, hatched for possible. Each stage is a button that narrows the table to it.

import { el, svg } from './dom.js';
import * as fmt from './format.js';
import { t, term } from './words.js';

export const STAGES = ['rod', 'coil', 'bobbin', 'strand', 'core', 'rope', 'reel'];
const rank = (kind) => (STAGES.indexOf(kind) + STAGES.length + 1) % (STAGES.length + 1);

/** Totals in the order of the mill. */
export const inOrder = (totals) => [...totals].sort((a, b) => rank(a.kind) - rank(b.kind));

const HIGH = 100;

/** The band between two stages, that at x from the height y down to its mirror image, to the one at x2, y2. */
function band(x, y, x2, y2) {
  const bend = (x2 - x) * 0.55;
  const over = `C${x + bend} ${y} ${x2 - bend} ${y2} ${x2} ${y2}`;
  const back = `C${x2 - bend} ${HIGH - y2} ${x + bend} ${HIGH - y} ${x} ${HIGH - y}`;
  return `M${x} ${y}${over}V${HIGH - y2}${back}Z`;
}

function picture(totals) {
  const most = Math.max(...totals.map((s) => s.lots), 1);
  const high = totals.map((s) => 10 + (HIGH - 20) * Math.sqrt(s.lots / most));
  const parts = [];
  totals.forEach((stage, i) => {
    const x = i * 100 + 26;
    const top = (HIGH - high[i]) / 2;
    if (i + 1 < totals.length) {
      const next = (HIGH - high[i + 1]) / 2;
      parts.push(svg('path', { class: 'flow-band', d: band(x + 48, top, x + 100, next) }));
    }
    const sure = (high[i] * stage.certain) / Math.max(stage.lots, 1);
    parts.push(
      svg('rect', {
        x,
        y: top,
        width: 48,
        height: high[i],
        class: 'lot-possible',
        fill: 'url(#k-possible)',
        'vector-effect': 'non-scaling-stroke',
      }),
      svg('rect', { x, y: HIGH - top - sure, width: 48, height: sure, class: 'lot-certain' }),
    );
  });
  return svg(
    'svg',
    {
      class: 'flow-picture',
      viewBox: `0 0 ${totals.length * 100} ${HIGH}`,
      preserveAspectRatio: 'none',
      'aria-hidden': 'true',
    },
    parts,
  );
}

/** `choose(kind or null)` is called when a stage is pressed; pressed again, it lets go. */
export function flow(totals, choose) {
  const stages = inOrder(totals);
  const buttons = stages.map((s) =>
    el(
      'button',
      {
        type: 'button',
        'aria-pressed': 'false',
        click: (event) => {
          const me = event.currentTarget;
          const on = me.getAttribute('aria-pressed') !== 'true';
          for (const b of buttons) b.setAttribute('aria-pressed', String(b === me && on));
          choose(on ? s.kind : null);
        },
      },
      el('b', null, term('kind', s.kind)),
      el('span', null, t('flow.sure', { n: s.certain })),
      el('span', null, t('flow.maybe', { n: s.possible })),
      el('span', { class: 'length' }, fmt.length(s.affected_mm)),
      el('span', { class: 'mass' }, fmt.mass(s.affected_g)),
    ),
  );
  const swatch = (cls, fill) =>
    svg('svg', { 'aria-hidden': 'true' }, svg('rect', { x: 0.5, y: 0.5, width: 27, height: 13, class: cls, fill }));
  return el(
    'div',
    { class: stages.length < 3 ? 'flow few' : 'flow' },
    picture(stages),
    el(
      'div',
      { class: 'flow-names', 'aria-hidden': 'true' },
      stages.map((s) => el('span', null, term('kind', s.kind))),
    ),
    el(
      'ol',
      { class: 'flow-stages' },
      buttons.map((b) => el('li', null, b)),
    ),
    el(
      'ul',
      { class: 'legend' },
      el('li', null, swatch('lot-certain'), t('legend.certain')),
      el('li', null, swatch('lot-possible', 'url(#k-possible)'), t('legend.possible')),
      el(
        'li',
        null,
        svg('svg', { 'aria-hidden': 'true' }, svg('rect', { x: 0, y: 5, width: 28, height: 4, class: 'lot-left' })),
        t('legend.left'),
      ),
    ),
  );
}
