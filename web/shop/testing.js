// Testing: the lot by scan, then what is measured of such a lot, in the order in which it is measured.

import { byId, el, put } from '../dom.js';
import * as instrument from './instrument.js';
import * as lots from './lots.js';
import * as where from './where.js';
import { form } from './ask.js';
import { PROPERTIES } from './stations.js';
import { quantityOf } from '../units.js';
import { show, t, term } from './say.js';

let shop = null;
let last = [];

/** A test number: the lot's and the next of it. */
function numberOf(lot) {
  const mine = where.remembered('tests') || {};
  const n = Math.max(mine[lot.lot] || 0, (lot.tests || []).length) + 1;
  return `T-${lot.lot.slice(0, 33)}-${n}`;
}

function count(lot) {
  const mine = where.remembered('tests') || {};
  mine[lot.lot] = Math.max(mine[lot.lot] || 0, (lot.tests || []).length) + 1;
  where.remember('tests', Object.fromEntries(Object.entries(mine).slice(-200)));
}

/** What several readings around one section say: their mean and the greatest less the least, as the ledger reckons them. */
function roundness(readings) {
  if (readings.length < 2) return t('test.one-reading');
  const mean = Math.round(readings.reduce((sum, um) => sum + um, 0) / readings.length);
  return t('test.roundness', {
    n: readings.length,
    mean: show(mean, 'diameter', true),
    range: show(Math.max(...readings) - Math.min(...readings), 'diameter', true),
  });
}

/** The tests of the lot that this one may repeat, those that failed first; none: this one stands for itself. */
function repeats(lot) {
  const tests = [...(lot.tests || [])].reverse();
  tests.sort((a, b) => (b.verdict === 'fail') - (a.verdict === 'fail'));
  if (tests.length === 0) return null;
  const name = (x) => `${x.test}${x.verdict ? ` (${t(`verdict.${x.verdict}`)})` : ''}`;
  return [{ value: '', label: t('test.repeats-none') }, ...tests.slice(0, 6).map((x) => ({ value: x.test, label: name(x) }))];
}

function wrongWith(out, properties) {
  if (out.readings && out.readings.length < 2) return t('test.one-reading');
  if (out.readings && out.diameter_um !== null) return t('test.diameter-twice');
  return out.readings || properties.some((p) => out[p] !== null) ? null : t('test.nothing');
}

async function record(lot, held) {
  const properties = PROPERTIES[lot.kind] || PROPERTIES.bobbin;
  const fields = properties.map((name, i) => {
    const quantity = name === 'reduction_ppm' ? 'share' : quantityOf(name);
    return { name, label: term('field', name), quantity, whole: !quantity, first: i === 0, plain: true };
  });
  fields.push({
    name: 'readings',
    label: t('field.readings-of-diameter'),
    quantity: 'diameter',
    list: true,
    plain: true,
    hint: t('hint.readings-of-diameter'),
    echo: roundness,
  });
  fields.push({
    name: 'verdict',
    label: t('field.verdict'),
    options: [
      { value: 'pass', label: t('verdict.pass') },
      { value: 'fail', label: t('verdict.fail') },
    ],
    value: 'pass',
  });
  fields.push(
    {
      name: 'at_mm',
      plain: true,
      label: t('field.at_mm'),
      quantity: 'length',
      value: lot.left?.at(-1)?.[1] ?? lot.length_mm,
    },
    { name: 'sample_mm', plain: true, label: t('field.sample_mm'), quantity: 'short' },
    {
      name: 'instrument',
      plain: true,
      label: t('field.instrument'),
      code: true,
      value: where.remembered('instrument') || '',
    },
    { name: 'test', label: t('field.test'), code: true, need: true, value: numberOf(lot) },
    { name: 'retest_of', plain: true, label: t('field.retest'), code: true, options: repeats(lot), value: '' },
  );
  const got = await form({
    title: t('test.title', { lot: lot.lot }),
    go: t('test.go'),
    fields,
    about: [
      el(
        'p',
        null,
        [
          lot.kind ? term('kind', lot.kind) : '',
          lot.diameter_um ? show(lot.diameter_um, 'diameter') : '',
          lot.grade || '',
        ]
          .filter(Boolean)
          .join(' \u00b7 '),
      ),
      held ? el('p', { class: 'warn' }, t('test.held')) : null,
    ],
    check: (out) => wrongWith(out, properties),
  });
  if (!got) return;
  const results = Object.fromEntries(properties.filter((p) => got[p] !== null).map((p) => [p, got[p]]));
  const body = { test: got.test, lot: lot.lot, verdict: got.verdict };
  if (Object.keys(results).length > 0) body.results = results;
  if (got.readings) body.readings = { diameter_um: got.readings };
  for (const name of ['at_mm', 'sample_mm', 'instrument', 'retest_of']) if (got[name]) body[name] = got[name];
  if (got.at_mm === 0) body.at_mm = 0;
  if (
    !(await shop.record(
      { kind: 'test', body },
      t('did.test', { test: got.test, lot: lot.lot, verdict: t(`verdict.${got.verdict}`) }),
    ))
  )
    return;
  count(lot);
  if (got.instrument) where.remember('instrument', got.instrument);
  last = [{ test: got.test, lot: lot.lot, verdict: got.verdict }, ...last].slice(0, 8);
  shop.draw();
}

export async function scanned(code) {
  const { lot, unknown } = await lots.look(code);
  if (!lot && !unknown) return shop.say(t('unknown', { code }), 'warn');
  const bar = lot ? lots.bar(lot, t) : null;
  if (bar && !bar.held && lot.state !== 'dispatched' && lot.state !== 'consumed') return shop.stop({ code, ...bar });
  return record(lot || { lot: code, kind: 'bobbin', tests: [] }, Boolean(bar?.held));
}

async function file(files) {
  for (const one of files) await instrument.take(shop, one, byId('file-report'));
}

let drawn = false;

export function draw(place) {
  if (!drawn) {
    const input = el('input', {
      type: 'file',
      id: 'file',
      accept: '.csv,text/csv',
      class: 'visually-hidden',
      change: () => {
        const files = [...input.files];
        input.value = '';
        shop.doing(() => file(files));
      },
    });
    const target = el(
      'div',
      { class: 'drop-file', id: 'drop-file' },
      el('p', null, t('file.drop')),
      el('label', { class: 'button', for: 'file' }, t('file.choose')),
      input,
    );
    for (const name of ['dragenter', 'dragover'])
      target.addEventListener(name, (event) => {
        event.preventDefault();
        target.classList.add('over');
      });
    target.addEventListener('dragleave', () => target.classList.remove('over'));
    target.addEventListener('drop', (event) => {
      event.preventDefault();
      target.classList.remove('over');
      const files = [...event.dataTransfer.files];
      shop.doing(() => file(files));
    });
    put(
      place,
      el(
        'section',
        { class: 'run' },
        el('h2', null, t('test.scan')),
        el('p', { class: 'next' }, el('span', { 'aria-hidden': 'true' }, '\u25b6 '), t('test.first')),
        el('ul', { class: 'packages', id: 'tests-made' }),
      ),
      el(
        'section',
        { class: 'run' },
        el('h2', null, t('file.title')),
        target,
        el('div', { id: 'file-report', 'aria-live': 'polite' }),
      ),
    );
    drawn = true;
  }
  put(
    byId('tests-made'),
    last.map((x) =>
      el(
        'li',
        null,
        el('span', { class: 'code' }, x.test),
        ' ',
        x.lot,
        ' ',
        el('span', { class: `verdict ${x.verdict}` }, t(`verdict.${x.verdict}`)),
      ),
    ),
  );
}

export function begin(given) {
  shop = given;
}
