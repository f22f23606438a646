// A control chart: individuals above, their moving ranges below, in the order in which they were taken or along what
// the run made. A point within the limits is a dot; one beyond them is a triangle that points the way it is off; one that
// completes a pattern is a diamond; a failed test has a cross through it: shapes, so that nothing is said by colour alone.
// A reading line goes from point to point.

import { el, put, svg } from './dom.js';
import * as fmt from './format.js';
import { t } from './words.js';
import { property } from './measured.js';

const HIGH = 240;
const LOW = 110;
const NAME_HIGH = 13; // of the words beside a line, in pixels
const TOP = 22;
const GAP = 40;

/** Round steps for about `wanted` ticks from low to high. */
function steps(low, high, wanted) {
  const raw = (high - low) / wanted || 1;
  const ten = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].find((m) => m * ten >= raw) * ten;
  const list = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i += 1) list.push(i * step);
  return list;
}

/** What is said of a point: "above the upper limit; jump beyond the limit of the ranges". */
export const remarks = (p) =>
  [
    p.beyond ? t(`chart.beyond.${p.beyond}`) : null,
    ...patterns(p).map((rule) => t(`chart.rule.${rule}`)),
    p.range_beyond ? t('chart.range-beyond') : null,
    p.sure === 'possibly' ? t('chart.possibly') : null,
  ].filter(Boolean);

/** The patterns that it completes, less the one that its triangle says already. */
export const patterns = (p) => p.rules.filter((rule) => rule !== '1-beyond-3-sigma');

function band(values, least = null) {
  const known = values.filter((v) => v !== null && v !== undefined);
  let [low, high] = [Math.min(...known), Math.max(...known)];
  const room = (high - low || Math.abs(high) || 1) * 0.08;
  low -= room;
  high += room;
  return [least === null ? low : Math.max(low, least), high];
}

export class Control {
  /** `answer` is that of /api/chart; `go(point)` follows a point. */
  constructor(place, answer, go) {
    this.place = place;
    this.answer = answer;
    this.points = answer.points;
    this.go = go;
    this.at = Math.max(this.points.findIndex((p) => p.beyond), 0);
    [this.unit, this.size] = fmt.scaleOf(answer.property);
    this.drawing = el('div', { class: 'control-drawing' });
    this.readout = el('div', { class: 'readout' });
    this.slider = el(
      'div',
      {
        class: 'control-slider',
        role: 'slider',
        tabindex: '0',
        'aria-label': t('chart.reading', { property: property(answer.property) }),
        'aria-valuemin': '1',
        'aria-valuemax': String(this.points.length),
        'aria-orientation': 'horizontal',
        keydown: (e) => this.key(e),
        pointermove: (e) => this.point(e),
        click: (e) => {
          this.point(e);
          if (this.near) this.go(this.points[this.at]);
        },
      },
      this.drawing,
    );
    put(place, this.slider, this.readout);
    new ResizeObserver(() => this.draw()).observe(place);
    addEventListener('beforeprint', () => this.draw());
    this.draw();
  }

  key(event) {
    const last = this.points.length - 1;
    const next = {
      ArrowRight: this.at + 1,
      ArrowLeft: this.at - 1,
      PageUp: this.at + 10,
      PageDown: this.at - 10,
      Home: 0,
      End: last,
    }[event.key];
    if (event.key === 'Enter') this.go(this.points[this.at]);
    if (next === undefined) return;
    event.preventDefault();
    this.read(Math.min(Math.max(next, 0), last));
  }

  point(event) {
    const x = event.clientX - this.drawing.getBoundingClientRect().left;
    let best = 0;
    for (let i = 1; i < this.points.length; i += 1)
      if (Math.abs(this.x(i) - x) < Math.abs(this.x(best) - x)) best = i;
    this.near = Math.abs(this.x(best) - x) < 24;
    if (this.near) this.read(best);
  }

  read(i) {
    const p = this.points[i];
    const name = this.answer.property;
    this.at = i;
    const parts = [
      fmt.figure(name, p.value),
      t('chart.of', { test: p.test, lot: p.lot }),
      this.answer.by === 'place' ? fmt.lengthExact(p.place_mm ?? p.at_mm) : fmt.stamp(p.at),
      ...remarks(p),
      p.verdict ? t(`verdict.${p.verdict}`) : null,
    ].filter(Boolean);
    this.slider.setAttribute('aria-valuenow', String(i + 1));
    this.slider.setAttribute('aria-valuetext', parts.join(', '));
    put(this.readout, el('strong', null, parts[0]), ' ', parts.slice(1).join(' \u00b7 '));
    if (this.line) for (const end of ['x1', 'x2']) this.line.setAttribute(end, this.x(i));
  }

  /** By time the points stand one beside the other; along a length each at its place. */
  x(i) {
    const n = this.points.length;
    const wide = this.width - this.gutter - this.margin;
    if (this.answer.by === 'time') return this.gutter + (n < 2 ? wide / 2 : (i / (n - 1)) * wide);
    const place = (p) => p.place_mm ?? p.at_mm;
    const [from, to] = [place(this.points[0]), place(this.points[n - 1])];
    return this.gutter + (to > from ? ((place(this.points[i]) - from) / (to - from)) * wide : wide / 2);
  }

  draw() {
    const width = Math.floor(this.place.clientWidth);
    if (width < 50) return;
    this.width = width;
    this.narrow = width < 640;
    this.gutter = this.narrow ? 52 : 74;
    this.margin = this.narrow ? 12 : 116;
    const height = TOP + HIGH + GAP + LOW + 34;
    this.line = svg('line', { class: 'reading', y1: TOP, y2: height - 26, x1: 0, x2: 0 });
    put(
      this.drawing,
      svg(
        'svg',
        { width, height, viewBox: `0 0 ${width} ${height}`, 'aria-hidden': 'true', focusable: 'false' },
        this.individuals(),
        this.ranges(),
        this.below(height),
        this.line,
      ),
    );
    this.read(this.at);
  }

  axis(values, y, title, top, high) {
    const far = this.width - this.margin;
    return [
      svg('text', { class: 'axis-name', x: 0, y: top - 8 }, title),
      svg('rect', { class: 'field', x: this.gutter, y: top, width: far - this.gutter, height: high }),
      steps(values[0] / this.size, values[1] / this.size, high / 48).map((v) => [
        svg('line', { class: 'grid', x1: this.gutter, x2: far, y1: y(v * this.size), y2: y(v * this.size) }),
        svg(
          'text',
          { class: 'tick-name', x: this.gutter - 6, y: y(v * this.size) + 4, 'text-anchor': 'end' },
          fmt.plainFigure(v),
        ),
      ]),
    ];
  }

  /** Whether a name beside the lines would be clear of those that are there. */
  clear(at) {
    return this.names.every((other) => Math.abs(other - at) >= NAME_HIGH);
  }

  level(y, value, cls, name) {
    if (value === null || value === undefined) return null;
    const far = this.width - this.margin;
    const steps = [0, -1, 1, -2, 2].map((n) => y(value) + n * NAME_HIGH);
    const at = steps.find((step) => this.clear(step)) ?? y(value);
    this.names.push(at);
    return [
      svg('line', { class: cls, x1: this.gutter, x2: far, y1: y(value), y2: y(value) }),
      this.narrow
        ? svg('text', { class: 'level-name', x: far - 4, y: y(value) - 3, 'text-anchor': 'end' }, name)
        : svg('text', { class: 'level-name', x: far + 6, y: at + 4 }, name),
    ];
  }

  /** One and two standard deviations from the mean: thirds of the way to a limit; named where there is room for all. */
  zones(y) {
    const c = this.answer.chart;
    const far = this.width - this.margin;
    const value = (n) => (c.mean_milli + (n * (c.upper_milli - c.mean_milli)) / 3) / 1000;
    const room = !this.narrow && Math.abs(y(value(1)) - y(value(0))) >= NAME_HIGH && [-2, -1, 1, 2].every((n) => this.clear(y(value(n))));
    return [-2, -1, 1, 2].map((n) => {
      const v = value(n);
      return [
        svg('line', { class: 'zone', x1: this.gutter, x2: far, y1: y(v), y2: y(v) }),
        room && svg('text', { class: 'level-name', x: far + 6, y: y(v) + 4 }, `${n > 0 ? '+' : '\u2212'}${Math.abs(n)}\u03c3`),
      ];
    });
  }

  path(values, y) {
    const d = values.map((v, i) => (v === null ? '' : `${i && values[i - 1] !== null ? 'L' : 'M'}${this.x(i).toFixed(1)} ${y(v).toFixed(1)}`));
    return svg('path', { class: 'joined', d: d.join('') });
  }

  /** `pattern`: it completes one, though it is not beyond the limits. */
  mark(i, y, beyond, failed, pattern = false) {
    const x = this.x(i);
    const r = this.points.length > this.width / 7 ? 2.2 : 3.6;
    const far = r + 3 + (beyond && failed ? 3 : 0);
    const shape = beyond
      ? svg('path', {
          class: 'out',
          d:
            beyond === 'above'
              ? `M${x} ${y - far}L${x + far} ${y + far - 1}L${x - far} ${y + far - 1}Z`
              : `M${x} ${y + far}L${x + far} ${y - far + 1}L${x - far} ${y - far + 1}Z`,
        })
      : pattern
        ? svg('path', { class: 'pattern', d: `M${x} ${y - r - 3}L${x + r + 3} ${y}L${x} ${y + r + 3}L${x - r - 3} ${y}Z` })
        : svg('circle', { class: 'in', cx: x, cy: y, r });
    if (!failed) return shape;
    return [
      shape,
      svg('path', { class: 'failed', d: `M${x - r - 2} ${y - r - 2}L${x + r + 2} ${y + r + 2}M${x - r - 2} ${y + r + 2}L${x + r + 2} ${y - r - 2}` }),
    ];
  }

  /** The limits of the specification, where they are one and the same for all points that have any. */
  bounds() {
    const limited = this.points.filter((p) => p.min !== null || p.max !== null);
    const first = limited[0];
    return first && limited.every((p) => p.min === first.min && p.max === first.max) ? first : { min: null, max: null };
  }

  individuals() {
    const c = this.answer.chart;
    this.names = [];
    const bounds = this.bounds();
    const milli = (v) => (c ? v / 1000 : null);
    const values = this.points.map((p) => p.value);
    const range = band([...values, c && milli(c.lower_milli), c && milli(c.upper_milli), bounds.min, bounds.max]);
    const y = (v) => TOP + HIGH - ((v - range[0]) / (range[1] - range[0])) * HIGH;
    return [
      this.axis(range, y, `${property(this.answer.property)}${this.unit && `, ${this.unit}`}`, TOP, HIGH),
      this.level(y, bounds.max, 'bound', t('chart.most')),
      this.level(y, bounds.min, 'bound', t('chart.least')),
      c && this.level(y, milli(c.upper_milli), 'limit', t('chart.upper')),
      c && this.level(y, milli(c.mean_milli), 'mean', t('chart.mean')),
      c && this.level(y, milli(c.lower_milli), 'limit', t('chart.lower')),
      c && this.zones(y),
      this.path(values, y),
      this.points.map((p, i) => this.mark(i, y(p.value), p.beyond, p.verdict === 'fail', patterns(p).length > 0)),
    ];
  }

  ranges() {
    const c = this.answer.chart;
    if (!c) return null;
    const top = TOP + HIGH + GAP;
    const values = this.points.map((p) => p.moving_range);
    const range = [0, band([0, ...values, c.range_upper_milli / 1000])[1]];
    const y = (v) => top + LOW - (v / range[1]) * LOW;
    return [
      this.axis(range, y, t('chart.moving-range'), top, LOW),
      this.level(y, c.range_upper_milli / 1000, 'limit', t('chart.upper')),
      this.level(y, c.range_mean_milli / 1000, 'mean', t('chart.mean')),
      this.path(values, y),
      this.points.map((p, i) =>
        p.moving_range === null ? null : this.mark(i, y(p.moving_range), p.range_beyond ? 'above' : null, false),
      ),
    ];
  }

  /** Dates, or places, under some of the points. */
  below(height) {
    const n = this.points.length;
    const every = Math.max(Math.ceil(n / Math.max(Math.floor((this.width - this.gutter) / 96), 1)), 1);
    let last = -Infinity;
    let said = null; /* several results of one day have its date once, under the first of them */
    return this.points.map((p, i) => {
      const text = this.answer.by === 'place' ? fmt.length(p.place_mm ?? p.at_mm) : fmt.day(p.at).replace(/,? ?\d{4}$/, '');
      if ((i % every !== 0 && this.answer.by === 'place') || text === said || this.x(i) - last < 84) return null;
      last = this.x(i);
      said = text;
      return svg(
        'text',
        { class: 'tick-name', x: this.x(i), y: height - 8, 'text-anchor': i === 0 ? 'start' : 'middle' },
        text,
      );
    });
  }
}
