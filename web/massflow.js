// A balance drawn as a flow: what came in on the left, where it went on the right, each as thick as its mass. What is too
// thin to see is still there as a line, with its figure beside it; the table below says the same.

import { svg } from './dom.js';
import * as fmt from './format.js';

const MOST = 8; /* of a side; the lightest are drawn together */
const SLOT = 40; /* px that a row's words need, in two lines; in three where it is narrow */
const NARROW = 620;
const HIGH = 300; /* px of all the mass, when nothing is thin */

/** The heaviest of a side, the others as one, and always what is not accounted for. */
function fold(all, others) {
  const lost = all.filter((r) => r.cls === 'flow-lost');
  const rows = all.filter((r) => r.cls !== 'flow-lost');
  if (rows.length <= MOST) return all;
  const rest = rows.slice(MOST - 1);
  return [
    ...rows.slice(0, MOST - 1),
    { what: others(rest.length), of: '', g: rest.reduce((sum, r) => sum + r.g, 0), cls: 'flow-others' },
    ...lost,
  ];
}

/** Where each row is: its slot from `top`, its thickness `h` in the middle of it. */
function stack(rows, scale, narrow) {
  let y = 0;
  return rows.map((r) => {
    const h = Math.max(r.g * scale, 1.5);
    const slot = Math.max(h + 6, narrow ? SLOT * 1.45 : SLOT);
    const at = { ...r, top: y + (slot - h) / 2, h, middle: y + slot / 2 };
    y += slot;
    return { ...at, end: y };
  });
}

function band(x, y, h, x2, y2, h2, cls) {
  const mid = (x + x2) / 2;
  return svg('path', {
    class: `mass-band ${cls || ''}`,
    d: `M${x} ${y}C${mid} ${y} ${mid} ${y2} ${x2} ${y2}V${y2 + h2}C${mid} ${y2 + h2} ${mid} ${y + h} ${x} ${y + h}Z`,
  });
}

function words(at, x, anchor, wide) {
  const cut = Math.max(8, Math.floor(wide / 7.6));
  const short = (text) => (text.length > cut ? `${text.slice(0, cut - 1)}\u2026` : text);
  const whole = at.of ? `${at.what}: ${at.of}` : at.what;
  const lines = at.of && whole.length > cut ? [at.what, at.of, fmt.mass(at.g)] : [whole, fmt.mass(at.g)];
  const first = at.middle - (lines.length - 1) * 8.5 + 5;
  return lines.map((text, i) =>
    svg(
      'text',
      { x, y: first + i * 17, 'text-anchor': anchor, class: i === lines.length - 1 ? 'mass-figure' : 'mass-name' },
      short(text),
    ),
  );
}

/**
 * Draw rows {what, of, g, cls} of both sides, heaviest first, `wide` pixels wide.
 * @others: (n) => the words for n rows drawn as one
 */
export function massFlow(ins, outs, wide, others) {
  const all = Math.max(
    ins.reduce((sum, r) => sum + r.g, 0),
    outs.reduce((sum, r) => sum + r.g, 0),
    1,
  );
  const scale = HIGH / all;
  const narrow = wide < NARROW;
  const left = stack(fold(ins, others), scale, narrow);
  const right = stack(fold(outs, others), scale, narrow);
  const high = Math.max(left.at(-1)?.end || 0, right.at(-1)?.end || 0, HIGH) + 8;
  const side = Math.min(wide * 0.3, 250);
  const box = { x: wide / 2 - 12, width: 24, y: (high - HIGH) / 2 };
  const parts = [];
  const flow = (list, from) => {
    let y = box.y;
    for (const at of list) {
      const h = Math.max(at.g * scale, 1.5);
      if (from) parts.push(band(side + 8, at.top, at.h, box.x, y, h, at.cls));
      else parts.push(band(box.x + box.width, y, h, wide - side - 8, at.top, at.h, at.cls));
      y += at.g * scale;
    }
  };
  flow(left, true);
  flow(right, false);
  for (const at of left) {
    parts.push(svg('rect', { x: side, y: at.top, width: 8, height: at.h, class: `mass-end ${at.cls || ''}` }));
    parts.push(words(at, side - 6, 'end', side));
  }
  for (const at of right) {
    parts.push(svg('rect', { x: wide - side - 8, y: at.top, width: 8, height: at.h, class: `mass-end ${at.cls || ''}` }));
    parts.push(words(at, wide - side + 6, 'start', side));
  }
  parts.push(svg('rect', { x: box.x, y: box.y, width: box.width, height: HIGH, class: 'mass-box' }));
  return svg(
    'svg',
    { class: 'mass-flow', viewBox: `0 0 ${wide} ${high}`, width: wide, height: high, 'aria-hidden': 'true' },
    parts,
  );
}
