// The ribbon: a lot drawn to scale along its length. Coordinate 0, the inner end, is on the left.
//
// Solid is certain, hatched is only possible; a band carries a letter beside its colour, a mark has its own shape, so
// that nothing is said by colour alone. The large ribbon has a reading line, moved by pointer or keys, that says in
// words what is at that place.

import { el, put, svg } from './dom.js';
import * as fmt from './format.js';
import { t } from './words.js';

/** Patterns that every ribbon of the page draws with; once a page. */
export function patterns() {
  if (document.getElementById('k-patterns')) return;
  const stripes = (id, step, angle, cls) =>
    svg(
      'pattern',
      {
        id,
        width: step,
        height: step,
        patternUnits: 'userSpaceOnUse',
        patternTransform: `rotate(${angle})`,
      },
      svg('rect', { width: step, height: step, class: `${cls}-ground` }),
      svg('rect', { width: step / 2, height: step, class: cls }),
    );
  document.body.append(
    svg(
      'svg',
      { id: 'k-patterns', width: 0, height: 0, 'aria-hidden': 'true', focusable: 'false' },
      svg(
        'defs',
        null,
        stripes('k-possible', 6, 45, 'hatch-possible'),
        stripes('k-hold', 8, -45, 'hatch-hold'),
        stripes('k-veil', 6, 45, 'hatch-veil'),
        stripes('k-gone', 5, 90, 'hatch-gone'),
      ),
    ),
  );
}

const share = (mm, length) => `${((100 * mm) / Math.max(length, 1)).toFixed(4)}%`;

/** A row of a table: what of the lot is affected, and under it what is still there. */
export function rowRibbon(row) {
  const bar = (list, y, height, cls, fill) =>
    (list || []).map(([a, b]) =>
      svg('rect', {
        x: share(a, row.length_mm),
        width: share(b - a, row.length_mm),
        y,
        height,
        class: cls,
        fill,
      }),
    );
  return svg(
    'svg',
    { class: 'row-ribbon', height: 26, width: '100%', role: 'img', 'aria-label': inWords(row) },
    svg('rect', { x: 0, y: 2, width: '100%', height: 16, class: 'lot-ground' }),
    bar(row.possible, 2, 16, 'lot-possible', 'url(#k-possible)'),
    bar(row.certain, 2, 16, 'lot-certain'),
    bar(row.left, 21, 4, 'lot-left'),
  );
}

/** The same row in words. */
export function inWords(row) {
  return t('row-in-words', {
    length: fmt.length(row.length_mm),
    certain: fmt.spans(row.certain),
    possible: fmt.spans(row.possible),
  });
}

/* --- bands: one a heat or a source lot ------------------------------------------------------------ */

const COLOURS = 8;

function hash(text) {
  let h = 7;
  for (const c of text) h = (h * 31 + c.codePointAt(0)) % 9973;
  return h;
}

const letterOf = (i) => (i < 26 ? String.fromCharCode(65 + i) : String(i + 1));

/** Give each part of a makeup its letter and its colour: by its code's hash, moved on while that colour is taken. */
export function bands(parts, nameOf) {
  const taken = new Set();
  return parts.map((part, i) => {
    const name = nameOf(part);
    let colour = hash(name) % COLOURS;
    while (taken.has(colour) && taken.size < COLOURS) colour = (colour + 1) % COLOURS;
    taken.add(colour);
    return { ...part, name, letter: letterOf(i), colour };
  });
}

/** The sign of a band in a legend or a table. */
export const bandSign = (band) => el('span', { class: `sign band-${band.colour}` }, band.letter);

const overlap = (one, other) => one.some(([a, b]) => other.some(([c, d]) => a < d && c < b));

/**
 * Bands into few lanes. Two share a lane unless one is possible where the other is certain: a weld's doubtful zone is
 * shared.
 */
function lanes(list) {
  const rows = [];
  const fits = (a, b) => !overlap(a.certain, b.possible) && !overlap(a.possible, b.certain);
  for (const band of list) {
    const row = rows.find((r) => r.every((other) => fits(band, other)));
    if (row) row.push(band);
    else rows.push([band]);
  }
  return rows;
}

/* --- the large ribbon --------------------------------------------------------------------------- */

const inside = (list, mm) => list.some(([a, b]) => a <= mm && mm <= b);

/** Round steps for a scale of about `wanted` ticks over `span` mm, in the shown unit. */
function ticks(from, to, wanted) {
  const unit = fmt.units() === 'us' ? 304.8 : 1000;
  const raw = (to - from) / unit / Math.max(wanted, 1);
  const ten = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].find((m) => m * ten >= raw) * ten * unit;
  const list = [];
  for (let i = Math.ceil(from / step); i * step <= to + 0.001; i += 1) list.push(i * step);
  return list;
}

const MOST_LANES = 40;
const MOST_LINES = 30;

/**
 * A large ribbon in `place`.
 *
 * model: { lot, length, bands: [{name, letter, colour, certain, possible}], joints: [{weld, at_mm, possible}],
 *          samples: [{test, from, to, verdict}], left: [[a,b]], taken: [{from_mm, to_mm, text}],
 *          holds: [{hold, spans}] }
 */
export class Ribbon {
  constructor(place, model) {
    this.place = place;
    this.model = model;
    this.view = [0, model.length];
    this.at = model.length / 2;
    this.stops = stopsOf(model);
    this.drawing = el('div', { class: 'ribbon-drawing' });
    this.readout = el('div', { class: 'readout' });
    this.slider = el(
      'div',
      {
        class: 'ribbon-slider',
        role: 'slider',
        tabindex: '0',
        'aria-label': t('ribbon.reading', { lot: model.lot }),
        'aria-valuemin': '0',
        'aria-valuemax': String(model.length),
        'aria-orientation': 'horizontal',
        keydown: (e) => this.key(e),
        pointermove: (e) => this.point(e),
        pointerdown: (e) => this.point(e),
      },
      this.drawing,
    );
    const button = (name, change) => el('button', { type: 'button', class: 'small', click: change }, t(name));
    put(
      place,
      this.slider,
      el(
        'div',
        { class: 'ribbon-below' },
        this.readout,
        el(
          'div',
          { class: 'ribbon-zoom' },
          button('ribbon.closer', () => this.zoom(1 / 4)),
          button('ribbon.wider', () => this.zoom(4)),
          button('ribbon.whole', () => this.zoom(Infinity)),
        ),
      ),
    );
    new ResizeObserver(() => this.draw()).observe(place);
    this.draw();
  }

  key(event) {
    const big = (this.view[1] - this.view[0]) / 10;
    const next = {
      ArrowRight: () => this.stops.find((s) => s > this.at + 0.5) ?? this.model.length,
      ArrowLeft: () => this.stops.findLast((s) => s < this.at - 0.5) ?? 0,
      PageUp: () => this.at + big,
      PageDown: () => this.at - big,
      Home: () => 0,
      End: () => this.model.length,
    }[event.key];
    if (!next) return;
    event.preventDefault();
    this.read(next());
  }

  point(event) {
    const box = this.drawing.getBoundingClientRect();
    const x = event.clientX - box.left - this.gutter;
    const width = box.width - this.gutter - this.margin;
    if (x < -4 || x > width + 4) return;
    this.read(this.view[0] + (Math.min(Math.max(x, 0), width) / width) * (this.view[1] - this.view[0]));
  }

  zoom(factor) {
    const whole = this.model.length;
    const span = Math.min(Math.max((this.view[1] - this.view[0]) * factor, Math.min(1000, whole)), whole);
    const from = Math.min(Math.max(this.at - span / 2, 0), whole - span);
    this.view = [from, from + span];
    this.draw();
  }

  /** Move the reading line and say what is there. */
  read(mm) {
    this.at = Math.round(Math.min(Math.max(mm, 0), this.model.length));
    const span = this.view[1] - this.view[0];
    if (this.at < this.view[0] || this.at > this.view[1]) {
      const from = Math.min(Math.max(this.at - span / 2, 0), this.model.length - span);
      this.view = [from, from + span];
      this.draw();
      return;
    }
    const lines = whatIsAt(this.model, this.at);
    this.slider.setAttribute('aria-valuenow', String(this.at));
    this.slider.setAttribute('aria-valuetext', [fmt.lengthExact(this.at), ...lines.map((l) => l.text)].join('. '));
    put(
      this.readout,
      el('strong', null, t('ribbon.at', { at: fmt.lengthExact(this.at) })),
      el(
        'ul',
        null,
        lines.slice(0, MOST_LINES).map((l) => el('li', null, l.band && bandSign(l.band), l.band && ' ', l.text)),
        lines.length > MOST_LINES ? el('li', null, t('and-more', { n: lines.length - MOST_LINES })) : null,
      ),
    );
    const x = this.x(this.at);
    if (this.line) for (const end of ['x1', 'x2']) this.line.setAttribute(end, x);
  }

  x(mm) {
    return (
      this.gutter + ((mm - this.view[0]) / (this.view[1] - this.view[0])) * (this.width - this.gutter - this.margin)
    );
  }

  draw() {
    const width = Math.floor(this.place.clientWidth);
    if (width < 50) return;
    this.width = width;
    this.narrow = width < 720;
    this.gutter = this.narrow ? 4 : 108;
    this.margin = this.narrow ? 4 : 14;
    this.y = 0;
    const parts = [this.scale(), this.bandRows(), this.jointRow(), this.sampleRow(), this.holdRow(), this.leftRow()];
    const height = this.y + 6;
    this.line = svg('line', { class: 'reading', y1: 0, y2: height, x1: 0, x2: 0 });
    put(
      this.drawing,
      svg(
        'svg',
        { width, height, viewBox: `0 0 ${width} ${height}`, 'aria-hidden': 'true', focusable: 'false' },
        svg(
          'clipPath',
          { id: 'k-clip' },
          svg('rect', { x: this.gutter - 4, y: 0, width: width - this.gutter, height }),
        ),
        parts,
        this.line,
      ),
    );
    this.read(this.at);
  }

  /** Begin a row: its name beside it, or above it where there is no room beside. */
  row(name, height) {
    let label;
    if (this.narrow) {
      label = svg('text', { class: 'row-name', x: this.gutter, y: this.y + 13 }, name);
      this.y += 18;
    } else {
      label = svg('text', { class: 'row-name', x: 0, y: this.y + height / 2 + 4 }, name);
    }
    const y = this.y;
    this.y += height + 8;
    return { label, y };
  }

  box([a, b], y, height, cls, fill = null) {
    if (b < this.view[0] || a > this.view[1]) return null;
    const x = this.x(Math.max(a, this.view[0]));
    return svg('rect', { x, y, height, width: Math.max(this.x(Math.min(b, this.view[1])) - x, 1.5), class: cls, fill });
  }

  scale() {
    const marks = ticks(...this.view, (this.width - this.gutter) / 110);
    const right = this.width - this.margin;
    const parts = marks.map((mm) => {
      const x = this.x(mm);
      const anchor = x > right - 30 ? 'end' : x < this.gutter + 20 ? 'start' : 'middle';
      return [
        svg('line', { class: 'tick', x1: x, x2: x, y1: 20, y2: 27 }),
        svg('text', { class: 'tick-name', x, y: 14, 'text-anchor': anchor }, fmt.lengthFigure(mm)),
      ];
    });
    this.y = 34;
    return [
      svg('line', { class: 'tick', x1: this.gutter, x2: right, y1: 27, y2: 27 }),
      parts,
      this.narrow
        ? null
        : svg('text', { class: 'row-name', x: 0, y: 14 }, t('ribbon.scale', { unit: fmt.unitOf('length') })),
    ];
  }

  bandRows() {
    const all = lanes(this.model.bands);
    const height = all.length > 10 ? 14 : 26;
    return all.slice(0, MOST_LANES).map((lane, i) => {
      const { label, y } = this.row(i === 0 ? this.model.bandsName : '', height);
      if (this.narrow && i > 0) this.y -= 18;
      const top = this.narrow && i > 0 ? y - 18 : y;
      if (all.length > 4) this.y -= 4;
      return [
        label,
        this.box([0, this.model.length], top, height, 'lot-ground'),
        lane.map((band) => this.band(band, lane, top, height)),
      ];
    });
  }

  /** A band: certain solid; possible veiled, and where two bands of a lane are both possible, one above the other. */
  band(band, lane, y, height) {
    const others = lane.filter((other) => other !== band);
    const veil = band.possible.map((s) => {
      const shared = others.find((other) => overlap(other.possible, [s]));
      const below = shared && lane.indexOf(shared) < lane.indexOf(band);
      const [top, high] = shared ? [below ? y + height / 2 : y, height / 2] : [y, height];
      return [this.box(s, top, high, `band-${band.colour}`), this.box(s, top, high, 'veil', 'url(#k-veil)')];
    });
    const sure = band.certain.map((s) => this.box(s, y, height, `band-${band.colour}`));
    const widest = (boxes) =>
      boxes.filter(Boolean).sort((a, b) => b.getAttribute('width') - a.getAttribute('width'))[0];
    const named = widest(sure) || widest(veil.map(([box]) => box));
    const letters = [...sure, ...(sure.some(Boolean) ? [] : [named])].map((box) =>
      this.bandName(band, box, box === named, sure.includes(box)),
    );
    return [veil, sure, letters];
  }

  /** A band's letter in a box of it, with its name where it is asked for and there is room. */
  bandName(band, box, full, solid) {
    const width = box ? Number(box.getAttribute('width')) : 0;
    if (width < 16) return null;
    const [x, y, height] = ['x', 'y', 'height'].map((name) => Number(box.getAttribute(name)));
    const long = full && width > 16 + band.name.length * 8.5;
    return svg(
      'text',
      {
        class: solid ? `band-name on-${band.colour}` : 'band-name on-veil',
        x: x + 6,
        y: y + Math.min(height, 26) / 2 + 4.5,
      },
      long ? `${band.letter} ${band.name}` : band.letter,
    );
  }

  jointRow() {
    const { joints } = this.model;
    if (joints.length === 0) return null;
    const { label, y } = this.row(t('ribbon.joints'), 26);
    return [
      label,
      svg('line', { class: 'rail', x1: this.gutter, x2: this.width - this.margin, y1: y + 13, y2: y + 13 }),
      joints
        .filter((j) => !anywhere(j, this.model.length))
        .map((j) => this.box(j.possible, y + 9, 8, 'joint-range', 'url(#k-possible)')),
      joints
        .filter((j) => this.seen(j.at_mm))
        .map((j) => {
          const x = this.x(j.at_mm);
          return svg('path', { class: 'joint', d: `M${x} ${y + 3}l5 10l-5 10l-5 -10z` });
        }),
    ];
  }

  seen(mm) {
    return mm !== null && mm !== undefined && mm >= this.view[0] && mm <= this.view[1];
  }

  sampleRow() {
    const { samples } = this.model;
    if (samples.length === 0) return null;
    const { label, y } = this.row(t('ribbon.samples'), 22);
    return [
      label,
      svg('line', { class: 'rail', x1: this.gutter, x2: this.width - this.margin, y1: y + 20, y2: y + 20 }),
      samples
        .filter((s) => this.seen(s.from))
        .map((s) => {
          const x = this.x(s.from);
          return s.verdict === 'fail'
            ? svg('path', { class: 'sample-fail', d: `M${x - 6} ${y + 4}l12 12M${x + 6} ${y + 4}l-12 12` })
            : svg('path', { class: 'sample-pass', d: `M${x - 6} ${y + 18}l6 -13l6 13z` });
        }),
    ];
  }

  holdRow() {
    const { holds } = this.model;
    if (holds.length === 0) return null;
    const { label, y } = this.row(t('ribbon.holds'), 20);
    return [
      label,
      this.box([0, this.model.length], y, 20, 'lot-ground'),
      holds.map((h) => h.spans.map((s) => this.box(s, y, 20, 'on-hold', 'url(#k-hold)'))),
    ];
  }

  leftRow() {
    const { label, y } = this.row(t('ribbon.left'), 20);
    const { taken } = this.model;
    return [
      label,
      this.box([0, this.model.length], y, 20, 'gone', 'url(#k-gone)'),
      taken.map((u) => this.box([u.from_mm, u.to_mm], y, 20, 'gone-edge', 'none')),
      this.model.left.map((s) => this.box(s, y, 20, 'lot-left')),
    ];
  }
}

/** Whether a joint's range is so wide that drawing it would only cover the others'. */
export const anywhere = (joint, length) => joint.possible[1] - joint.possible[0] > length / 2;

/** Every place where something begins, ends or is marked: where the reading line stops. */
function stopsOf(model) {
  const all = new Set([0, model.length]);
  const add = (list) => list.forEach((s) => s.forEach((mm) => all.add(mm)));
  model.bands.forEach((b) => {
    add(b.certain);
    add(b.possible);
  });
  model.joints.forEach((j) => all.add(j.at_mm ?? j.possible[0]));
  model.samples.forEach((s) => all.add(s.from));
  model.holds.forEach((h) => add(h.spans));
  add(model.left);
  return [...all].sort((a, b) => a - b);
}

/** What is at a place, in words. */
function whatIsAt(model, mm) {
  const lines = [];
  for (const band of model.bands) {
    if (inside(band.certain, mm)) lines.push({ band, text: t('at.certain', { name: band.name }) });
    else if (inside(band.possible, mm)) lines.push({ band, text: t('at.possible', { name: band.name }) });
  }
  for (const j of model.joints) {
    if (inside([j.possible], mm)) {
      const range = fmt.spans([j.possible]);
      lines.push({
        text: j.at_mm === null ? t('at.joint.anywhere', { weld: j.weld, range }) : t('at.joint', { weld: j.weld, at: fmt.lengthExact(j.at_mm), range }),
      });
    }
  }
  const near = model.length / 500;
  for (const s of model.samples) {
    if (Math.abs(s.from - mm) <= near)
      lines.push({
        text: t(`at.sample.${s.verdict === 'fail' ? 'fail' : 'pass'}`, { test: s.test, at: fmt.lengthExact(s.from) }),
      });
  }
  for (const h of model.holds) if (inside(h.spans, mm)) lines.push({ text: t('at.hold', { hold: h.hold }) });
  const used = model.taken.find((u) => u.from_mm <= mm && mm <= u.to_mm);
  if (used && !inside(model.left, mm)) lines.push({ text: used.text });
  else lines.push({ text: t(inside(model.left, mm) ? 'at.left' : 'at.gone') });
  return lines;
}
