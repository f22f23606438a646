// Instruments: until when each is in calibration, its calibrations over time, what a bad one puts in doubt, and the tests
// that were made while none held.

import { byId, el, facts, put, svg, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { link, sheet } from './parts.js';
import { patterns } from './ribbon.js';
import { problemText } from './said.js';
import { learnArea, t } from './words.js';

const asked = new URLSearchParams(location.search);
const HIGH = 84;

const time = (text) => (text ? Date.parse(text) : null);

function state(i) {
  if (i.found === 'bad') return el('span', { class: 'state on-hold' }, t('instruments.bad'));
  if (!i.calibrated) return t('instruments.unsaid');
  if (!i.valid_until) return t('instruments.open');
  return time(i.valid_until) < Date.now()
    ? el('span', { class: 'state on-hold' }, t('instruments.lapsed', { at: fmt.day(i.valid_until) }))
    : el('span', { class: 'state in-stock' }, t('instruments.valid', { at: fmt.day(i.valid_until) }));
}

function list(instruments) {
  return el(
    'nav',
    { class: 'sheet', 'aria-label': t('instruments.list') },
    el('h2', null, t('instruments.list')),
    instruments.length === 0 ? el('p', null, t('instruments.none')) : null,
    el(
      'ul',
      { class: 'spec-list' },
      instruments.map((i) =>
        el(
          'li',
          null,
          el(
            'a',
            {
              href: api.url('instruments.html', { instrument: i.instrument }),
              'aria-current': asked.get('instrument') === i.instrument ? 'page' : null,
            },
            el('span', { class: 'code' }, i.instrument),
            el('div', { class: 'quiet' }, i.what),
            el('div', { class: 'quiet' }, state(i)),
          ),
        ),
      ),
    ),
  );
}

/* --- over time --------------------------------------------------------------------------------------------- */

/** Bars where a calibration holds, hatched where one found bad puts what was measured in doubt, a mark for each. */
function timeline(one, width) {
  const known = one.calibrations.flatMap((c) => [c.calibrated, c.valid_until, c.at]).map(time).filter(Boolean);
  const now = Date.now();
  const from = Math.min(...known);
  const to = Math.max(...known, Math.min(now, Math.max(...known) + 864e5 * 30));
  const x = (at) => 8 + ((at - from) / Math.max(to - from, 1)) * (width - 16);
  const rect = (a, b, cls) => svg('rect', { x: x(a), width: Math.max(x(b) - x(a), 2), y: 22, height: 20, class: cls });
  const good = one.calibrations.filter((c) => c.calibrated && c.found !== 'bad');
  return svg(
    'svg',
    { class: 'lifeline', viewBox: `0 0 ${width} ${HIGH}`, height: HIGH, 'aria-hidden': 'true' },
    good.map((c) => rect(time(c.calibrated), time(c.valid_until) ?? to, 'holds')),
    one.calibrations
      .filter((c) => c.doubtful)
      .map((c) => rect(time(c.doubtful.since) ?? from, time(c.doubtful.until) ?? Math.min(now, to), 'doubt')),
    one.calibrations.map((c) => {
      const at = x(time(c.calibrated || c.at));
      if (c.found === 'bad') return svg('path', { class: 'bad', d: `M${at - 5} 45L${at + 5} 55M${at - 5} 55L${at + 5} 45` });
      return svg('circle', { class: c.found === 'good' ? 'good' : 'unsaid', cx: at, cy: 14, r: 6 });
    }),
    now < to ? svg('line', { class: 'now', x1: x(now), x2: x(now), y1: 4, y2: 60 }) : null,
    svg('text', { x: 8, y: 76 }, fmt.day(new Date(from).toISOString())),
    svg('text', { x: width - 8, y: 76, 'text-anchor': 'end' }, fmt.day(new Date(to).toISOString())),
  );
}

function legend() {
  const swatch = (kid) => svg('svg', { class: 'lifeline', 'aria-hidden': 'true', viewBox: '0 0 28 14' }, kid);
  const item = (kid, name) => el('li', null, swatch(kid), t(`instruments.legend.${name}`));
  return el(
    'ul',
    { class: 'legend' },
    item(svg('rect', { x: 1, y: 1, width: 26, height: 12, class: 'holds' }), 'holds'),
    item(svg('rect', { x: 1, y: 1, width: 26, height: 12, class: 'doubt' }), 'doubt'),
    item(svg('circle', { cx: 14, cy: 7, r: 6, class: 'good' }), 'good'),
    item(svg('path', { d: 'M8 1L20 13M8 13L20 1', class: 'bad' }), 'bad'),
    item(svg('circle', { cx: 14, cy: 7, r: 5, class: 'unsaid' }), 'unsaid'),
  );
}

function doubt(one, c) {
  if (!c.doubtful) return '';
  const { since, until } = c.doubtful;
  return [
    t('instruments.doubt.from', {
      from: since ? fmt.stamp(since) : t('instruments.always'),
      to: until ? fmt.stamp(until) : t('instruments.now'),
    }),
    ' ',
    el(
      'a',
      { class: 'button', href: api.url('recall.html', { origin: `instrument:${one.instrument}`, since, until }) },
      t('instruments.recall'),
    ),
  ];
}

function calibrations(one) {
  return table(
    [t('column.entry'), t('field.calibrated'), t('field.valid_until'), t('field.found'), t('field.note'), t('instruments.doubt')],
    [...one.calibrations].reverse().map((c) => [
      link('entry', c.entry, t('entry-n', { seq: c.entry })),
      c.calibrated ? fmt.stamp(c.calibrated) : '',
      c.valid_until ? fmt.day(c.valid_until) : '',
      c.found ? el('span', { class: `verdict ${c.found === 'good' ? 'pass' : 'fail'}` }, t(`instruments.found.${c.found}`)) : t('instruments.found.unsaid'),
      c.note || '',
      doubt(one, c),
    ]),
    { caption: t('instruments.calibrations') },
  );
}

function outside(one) {
  return one.outside.length === 0
    ? el('p', null, t('instruments.outside.none'))
    : table(
        [t('type.test'), t('type.lot'), t('column.when'), t('column.entry')],
        one.outside.map((o) => [link('test', o.test), link('lot', o.lot), fmt.stamp(o.at), link('entry', o.entry, t('entry-n', { seq: o.entry }))]),
      );
}

/* --- recording one ------------------------------------------------------------------------------------------ */

const stored = (text) => (text ? `${text}:00Z` : undefined);

/** `one`: the instrument, null for a new one; `code`: of a new one, as far as it is known. */
function record(one, code = '') {
  const input = (name, attrs = {}) => {
    const box = el('input', { id: `cal-${name}`, ...attrs });
    const words = { instrument: 'instruments.code', what: 'instruments.what' }[name] || `field.${name}`;
    const utc = attrs.type === 'datetime-local' ? t('field.utc', { name: t(words) }) : t(words);
    return [box, el('div', { class: 'field' }, el('label', { for: box.id }, utc), box)];
  };
  const [box, codeField] = input('instrument', { class: 'code-in', maxlength: 40, value: one?.instrument || code, readonly: Boolean(one) });
  const [what, whatField] = input('what', { maxlength: 200, value: one?.what || '' });
  const [at, atField] = input('calibrated', { type: 'datetime-local', value: new Date().toISOString().slice(0, 16) });
  const [until, untilField] = input('valid_until', { type: 'datetime-local' });
  const [note, noteField] = input('note', { maxlength: 2000 });
  const found = (value, words) =>
    el('label', null, el('input', { type: 'radio', name: 'found', value, checked: value === 'good' }), ' ', t(words));
  const said = el('div', { role: 'alert' });
  const send = el('button', { class: 'main', type: 'submit' }, t('instruments.record.go'));
  const key = api.newKey();
  const form = el(
    'form',
    {
      novalidate: true,
      submit: async (event) => {
        event.preventDefault();
        if (send.disabled) return;
        send.disabled = true;
        put(said);
        const body = {
          instrument: box.value.trim().toUpperCase(),
          what: what.value.trim(),
          calibrated: stored(at.value),
          valid_until: stored(until.value),
          found: form.elements.found.value,
          note: note.value.trim() || undefined,
        };
        try {
          await api.append({ key, kind: 'instrument', body });
          location.href = api.url('instruments.html', { instrument: body.instrument });
        } catch (problem) {
          put(said, el('p', { class: 'trouble' }, el('strong', null, t('refused')), ' ', problem.status === 0 ? t('no-answer.log') : problemText(problem)));
          send.disabled = false;
        }
      },
    },
    el('div', { class: 'fields ask' }, codeField, whatField, atField, untilField, noteField),
    el(
      'fieldset',
      { class: 'choices' },
      el('legend', null, t('field.found')),
      found('good', 'instruments.good'),
      found('bad', 'instruments.found-bad'),
    ),
    el('p', { class: 'quiet' }, t('instruments.how')),
    said,
    el('div', { class: 'actions' }, send),
  );
  return el(
    'section',
    { class: 'sheet spaced no-print', id: 'record' },
    el('details', { open: !one || location.hash === '#record' }, el('summary', null, t(one ? 'instruments.record' : 'instruments.new')), form),
  );
}

/** An instrument; null where tests name it and nobody recorded it yet. */
async function known(code) {
  try {
    return await api.instrument(code);
  } catch (problem) {
    if (problem.status === 404) return null;
    throw problem;
  }
}

async function main() {
  const place = byId('instruments');
  const code = asked.get('instrument');
  try {
    const [all, one] = await Promise.all([api.instruments(), code ? known(code) : null]);
    const listed = all.instruments.find((i) => i.instrument === code);
    const drawing = el('div');
    if (one) document.title = t('title', { page: code });
    put(
      place,
      el(
        'div',
        { class: 'side' },
        list(all.instruments),
        el(
          'div',
          null,
          one
            ? [
                sheet(
                  'one-title',
                  [el('span', { class: 'code' }, one.instrument), ' ', one.what],
                  facts([
                    [t('instruments.state'), listed ? state(listed) : null],
                    [t('instruments.last'), listed?.last_used ? fmt.stamp(listed.last_used) : null],
                  ]),
                  el('h3', null, t('instruments.timeline')),
                  drawing,
                  legend(),
                  calibrations(one),
                  el('div', { class: 'actions' }, el('button', { type: 'button', click: () => print() }, t('print'))),
                ),
                el('div', { class: 'spaced' }, sheet('outside-title', t('instruments.outside'), outside(one))),
                record(one),
              ]
            : [el('p', null, code ? t('instruments.unknown', { code }) : t('instruments.choose')), record(null, code || '')],
        ),
      ),
    );
    if (location.hash === '#record') {
      byId('record').scrollIntoView();
      byId(one || !code ? 'cal-calibrated' : 'cal-what').focus({ preventScroll: true });
    }
    if (one) new ResizeObserver(() => put(drawing, timeline(one, Math.max(drawing.clientWidth, 240)))).observe(drawing);
  } catch (problem) {
    trouble(place, problem);
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

await learnArea('measured');
frame('instruments');
patterns();
main();
