// A run under way, drawn: how far along, what comes next, and line by line what is loaded and how soon it runs out.

import { el, svg } from '../dom.js';
import { labelLink } from './labels.js';
import { implied } from './project.js';
import { clock, show, t, term } from './say.js';

/** The first line with nothing on it, or null. */
export const freeLine = (run) => run.lines.find((l) => l.feeds.length === 0) || null;

/** A line's input as a bar: each lot its share, joined where they were joined, filled as far as the run has come. */
function barOf(line, run, { most, ratio }) {
  const whole = implied(line, ratio, run) ?? line.length_mm;
  const scale = most > 0 ? 1000 / most : 0;
  const per = line.length_mm > 0 ? whole / line.length_mm : 0;
  let x = 0;
  const parts = line.feeds.map((f, i) => {
    const w = (f.length_mm || 0) * per * scale;
    const r = svg('rect', { x, y: 0, width: Math.max(0, w), height: 26, class: `feed feed-${i % 2}` });
    const mark = i > 0 ? svg('path', { d: `M${x} -1 l5 14 l-5 14 l-5 -14 z`, class: 'weld' }) : null;
    x += w;
    return [r, mark];
  });
  const done = Math.min(run.length_mm * scale, 1000);
  return svg(
    'svg',
    { class: 'bar', viewBox: '0 -2 1000 30', preserveAspectRatio: 'none', 'aria-hidden': 'true' },
    svg('rect', { x: 0, y: 0, width: 1000, height: 26, class: 'bar-ground' }),
    parts.map(([r]) => r),
    svg('rect', { x: 0, y: 0, width: done, height: 26, class: 'bar-done' }),
    parts.map(([, m]) => m),
    svg('rect', { x: Math.max(0, done - 2), y: -2, width: 4, height: 30, class: 'bar-now' }),
  );
}

function lineRow(line, run, how) {
  const { rests } = how;
  const rest = rests.find((r) => r.line === line.line);
  const first = rests[0]?.line === line.line && rests[0].rest !== null && run.lines.length > 1;
  const last = line.feeds.at(-1);
  return el(
    'li',
    { class: `line${line.feeds.length === 0 ? ' free' : ''}${first ? ' first' : ''}` },
    el('span', { class: 'line-name' }, line.line),
    last
      ? el(
          'span',
          { class: 'line-lot' },
          el('span', { class: 'code' }, last.lot),
          line.feeds.length > 1
            ? el('span', { class: 'soft' }, ` ${t('line.behind', { n: line.feeds.length - 1 })}`)
            : null,
          last.waits ? el('span', { class: 'soft' }, ` ${t('line.waits')}`) : null,
        )
      : el('span', { class: 'line-lot soft' }, t('line.free')),
    last ? barOf(line, run, how) : el('span'),
    el(
      'span',
      { class: 'line-rest' },
      !rest || rest.rest === null
        ? ''
        : rest.rest >= 0
          ? t('line.rest', { rest: show(rest.rest, 'length') })
          : t('line.over', { over: show(-rest.rest, 'length') }),
    ),
  );
}

/** What the operator does next, in one sentence. */
function nextWords(run, { rests, kind }) {
  const free = freeLine(run);
  if (free)
    return t(run.lines.length === 1 ? 'next.load' : 'next.load-line', {
      line: free.line,
      n: run.lines.filter((l) => l.feeds.length === 0).length,
    });
  const out = rests[0];
  if (out && out.rest !== null && out.rest < 0) return t('next.over', { over: show(-out.rest, 'length') });
  if (out && out.rest !== null && run.lines.length > 1)
    return t('next.change', { line: out.line, rest: show(out.rest, 'length') });
  return t('next.doff', { kind: term('kind', kind) });
}

/**
 * A run as a card. `how`: { rests (runningOut of it), ratio, kind (of what it makes), buttons: [[text, work, class]] };
 * `doing` does a button's work.
 */
export function card(run, how, doing) {
  const { rests } = how;
  const most = Math.max(
    run.length_mm,
    ...rests.map((r) => r.implied ?? 0),
    ...run.lines.map((l) => (rests.some((r) => r.line === l.line && r.implied !== null) ? 0 : l.length_mm)),
  );
  const least =
    rests.length > 0 && rests.every((r) => r.implied !== null) && !freeLine(run)
      ? Math.min(...rests.map((r) => r.implied))
      : null;
  const packages = run.packages.slice(-8).reverse();
  return el(
    'article',
    { class: 'run', 'aria-labelledby': 'run-title' },
    el(
      'div',
      { class: 'run-head' },
      el('h2', { id: 'run-title' }, run.machine, ' ', el('span', { class: 'code' }, run.run)),
      el(
        'p',
        null,
        [
          term('process', run.process),
          run.order ? t('run.order', { order: run.order }) : null,
          run.out_um ? t('run.out', { diameter: show(run.out_um, 'diameter') }) : null,
          run.started ? t('run.since', { at: clock(run.started) }) : null,
        ]
          .filter(Boolean)
          .join(' \u00b7 '),
      ),
    ),
    el(
      'p',
      { class: 'made' },
      el('strong', null, show(run.length_mm, 'length')),
      ' ',
      least !== null ? t('run.made-of', { whole: show(least, 'length') }) : t('run.made'),
    ),
    el('p', { class: 'next' }, el('span', { 'aria-hidden': 'true' }, '\u25b6 '), nextWords(run, how)),
    el(
      'div',
      { class: 'run-steps' },
      how.buttons.map(([text, work, cls]) =>
        el('button', { type: 'button', class: cls, click: () => doing(work) }, text),
      ),
    ),
    el(
      'ul',
      { class: run.lines.length > 8 ? 'lines many' : 'lines', 'aria-label': t('run.lines') },
      run.lines.map((l) => lineRow(l, run, { ...how, most })),
    ),
    packages.length > 0 ? el('h3', null, t('run.packages', { n: run.packages.length })) : null,
    packages.length > 0
      ? el(
          'ul',
          { class: 'packages' },
          packages.map((p) =>
            el(
              'li',
              { class: p.lot ? null : 'scrap' },
              p.lot ? el('span', { class: 'code' }, p.lot) : el('span', null, t('scrap.word')),
              ' ',
              show(p.length_mm, 'length'),
              p.waits ? el('span', { class: 'soft' }, ` ${t('line.waits')}`) : null,
            ),
          ),
        )
      : null,
    run.packages.some((p) => p.lot) ? labelLink(run.packages.filter((p) => p.lot).map((p) => p.lot)) : null,
  );
}
