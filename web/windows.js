// Shorter times to ask for, where a machine's or an instrument's whole time touches more than one answer holds: the last
// week to the last year, or, of a time that was asked for, its two halves.

import { el } from './dom.js';
import * as api from './api.js';
import * as fmt from './format.js';
import { originOf } from './question.js';
import { t } from './words.js';

const DAY = 86400000; /* ms */
const LASTS = [7, 30, 90, 365]; /* days */

const stamp = (ms) => new Date(Math.floor(ms / 1000) * 1000).toISOString().replace('.000', '');

const between = (since, until) => ({ since, until, text: t('windows.between', { since: fmt.stamp(since), until: fmt.stamp(until) }) });

/** The times that may be tried: {since, until, text}. `now`: ms, where the question says no end. */
export function windowsOf(question, now) {
  const until = question.until ? Date.parse(question.until) : now;
  const since = question.since ? Date.parse(question.since) : null;
  if (since !== null) {
    const middle = stamp((since + until) / 2);
    return until - since < 2 * DAY ? [] : [between(question.since, middle), between(middle, stamp(until))];
  }
  return LASTS.map((days) =>
    question.until
      ? between(stamp(until - days * DAY), question.until)
      : { since: stamp(until - days * DAY), until: null, text: t('windows.last', { n: days }) },
  );
}

/** Links to them, below what the server said; nothing for a question that has no time. */
export function windows(question, problem) {
  if (problem.status !== 413 || !['machine', 'instrument'].includes(originOf(question).type)) return null;
  const times = windowsOf(question, Date.now());
  if (times.length === 0) return null;
  return el(
    'nav',
    { class: 'spaced', 'aria-label': t('windows') },
    el('p', null, t('windows')),
    el(
      'ul',
      { class: 'actions windows' },
      times.map(({ since, until, text }) =>
        el('li', null, el('a', { class: 'button', href: api.url('recall.html', { ...question, since, until, size: api.past }) }, text)),
      ),
    ),
  );
}
