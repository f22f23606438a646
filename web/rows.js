// A table of many rows of one height, of which only those near the window are made; the rest is two gaps of the right
// height. Ten thousand lots scroll like ten, and printing makes them all.

import { el } from './dom.js';

const SPARE = 12;

export class Rows {
  /** `body` is a tbody; `draw(item, index)` makes the tr of an item. */
  constructor(body, columns, draw) {
    this.body = body;
    this.draw = draw;
    this.items = [];
    this.made = new Map();
    this.height = 60;
    this.before = this.gap(columns);
    this.after = this.gap(columns);
    body.replaceChildren(this.before, this.after);
    this.all = false;
    let waiting = false;
    const soon = () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(() => {
        waiting = false;
        this.show();
      });
    };
    addEventListener('scroll', soon, { passive: true });
    addEventListener('resize', () => {
      this.measured = false;
      soon();
    });
    addEventListener('beforeprint', () => this.whole(true));
    addEventListener('afterprint', () => this.whole(false));
  }

  gap(columns) {
    return el(
      'tr',
      { class: 'gap', role: 'presentation' },
      el('td', { colspan: columns, height: 0, role: 'presentation' }),
    );
  }

  whole(all) {
    this.all = all;
    this.show();
  }

  set(items) {
    this.items = items;
    for (const row of this.made.values()) row.remove();
    this.made.clear();
    this.show();
  }

  measure() {
    const first = this.made.values().next().value;
    const height = first?.getBoundingClientRect().height;
    if (!height) return false;
    const changed = Math.abs(height - this.height) > 0.5;
    this.height = height;
    this.measured = true;
    return changed;
  }

  /** Make the rows near the window, drop those far from it (but for the one that has the focus). */
  show() {
    if (!this.body.isConnected) return;
    const n = this.items.length;
    const top = -this.body.getBoundingClientRect().top;
    let from = Math.max(Math.floor(top / this.height) - SPARE, 0);
    let to = Math.min(Math.ceil((top + innerHeight) / this.height) + SPARE, n);
    if (this.all) [from, to] = [0, n];
    if (from >= to) [from, to] = [Math.max(Math.min(from, n) - SPARE, 0), Math.min(Math.max(to, SPARE), n)];
    for (const [i, row] of this.made) {
      if ((i < from || i >= to) && !row.contains(document.activeElement)) {
        row.remove();
        this.made.delete(i);
      }
    }
    let next = this.after;
    for (let i = to - 1; i >= from; i -= 1) {
      let row = this.made.get(i);
      if (!row) {
        row = this.draw(this.items[i], i);
        this.made.set(i, row);
      }
      if (row.nextSibling !== next) this.body.insertBefore(row, next);
      next = row;
    }
    this.before.firstChild.setAttribute('height', Math.round(from * this.height));
    this.after.firstChild.setAttribute('height', Math.round((n - to) * this.height));
    if (!this.measured && this.measure()) this.show();
  }
}
