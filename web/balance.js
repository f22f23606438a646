// Balance: mass in against mass out of a run, a lot, a heat, a machine or the whole mill, as a flow and as a table.

import { byId, el, facts, put, table } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { massFlow } from './massflow.js';
import { link } from './parts.js';
import { lookBack } from './past.js';
import { suggest } from './suggest.js';
import { waiting } from './waiting.js';
import { learnArea, t, term } from './words.js';

const OF = ['run', 'lot', 'heat', 'machine', 'mill'];
const ASKED = ['origin', 'month', 'since', 'until'];

function fromAddress() {
  const given = new URLSearchParams(location.search);
  if (![...given.keys()].some((name) => ASKED.includes(name) || name === 'of')) return null;
  return Object.fromEntries(ASKED.filter((name) => given.get(name)).map((name) => [name, given.get(name)]));
}

const typeOf = (question) => (question?.origin ? question.origin.split(':')[0] : 'mill');
const codeOf = (question) => (question?.origin ? question.origin.slice(question.origin.indexOf(':') + 1) : '');

function inWords(question) {
  const what = question.origin
    ? t('question.about', { type: t(`type.${typeOf(question)}`), code: codeOf(question) })
    : t('balance.of.mill');
  const when = [
    question.month || null,
    question.since ? t('question.since', { at: fmt.stamp(question.since) }) : null,
    question.until ? t('question.until', { at: fmt.stamp(question.until) }) : null,
  ].filter(Boolean);
  return [what, ...when].join(', ');
}

/* --- the form ------------------------------------------------------------------------------------- */

function questionForm(form, question, asked) {
  const of = question ? typeOf(question) : 'run';
  const code = el('input', { id: 'code', class: 'code-in', value: codeOf(question), 'aria-describedby': 'code-wrong' });
  const wrong = el('span', { class: 'wrong', id: 'code-wrong', role: 'alert' });
  const month = el('input', {
    id: 'month',
    inputmode: 'numeric',
    value: question?.month || '',
    'aria-describedby': 'month-hint',
  });
  const codeBox = el('div', { class: 'field' }, el('label', { for: 'code' }, t('question.code')), code, wrong);
  const monthBox = el(
    'div',
    { class: 'field' },
    el('label', { for: 'month' }, t('balance.month')),
    el('span', { class: 'hint', id: 'month-hint' }, t('balance.month.hint')),
    month,
  );
  put(
    form,
    el(
      'fieldset',
      null,
      el('legend', null, t('balance.which')),
      el(
        'div',
        { class: 'choices' },
        OF.map((v) =>
          el(
            'label',
            null,
            el('input', { type: 'radio', name: 'of', value: v, checked: v === of }),
            el('span', null, v === 'mill' ? t('balance.of.mill') : t(`type.${v}`)),
          ),
        ),
      ),
    ),
    el('div', { class: 'two' }, codeBox, monthBox),
    el('div', { class: 'actions' }, el('button', { class: 'main', type: 'submit' }, t('balance.ask'))),
  );
  const picked = () => form.querySelector('input[name="of"]:checked').value;
  const fit = () => {
    codeBox.hidden = picked() === 'mill';
    monthBox.hidden = !['machine', 'mill'].includes(picked());
    put(wrong);
  };
  suggest(code, { types: () => null, chosen: () => {} });
  form.addEventListener('change', (event) => event.target.name === 'of' && fit());
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const text = code.value.trim().toUpperCase();
    if (picked() !== 'mill' && !text) {
      put(wrong, t('question.code.missing'));
      return code.focus();
    }
    const time = monthBox.hidden ? '' : month.value.trim();
    return asked({
      ...(picked() === 'mill' ? {} : { origin: `${picked()}:${text}` }),
      ...(time ? { month: time } : {}),
    });
  });
  fit();
}

/* --- the answer ----------------------------------------------------------------------------------- */

/** Of what a row is, in words: "bobbins", "DN-0120". */
const ofWhat = (row) =>
  row.code || (row.kind ? (row.what === 'scrap' ? processOr(row.kind) : term('many', row.kind)) : '');

/** What was sent in many consignments is drawn as one. */
function drawn(rows) {
  const sent = rows.filter((r) => r.what === 'sent' && r.code);
  if (sent.length < 3) return rows;
  const together = {
    what: 'sent',
    said: t('balance.consignments', { n: sent.length }),
    mass_g: sent.reduce((sum, r) => sum + r.mass_g, 0),
  };
  return [...rows.filter((r) => !sent.includes(r)), together].sort((a, b) => b.mass_g - a.mass_g);
}

/** Scrap is of a process or of a kind of lot. */
const processOr = (kind) => (term('process', kind) === kind ? term('many', kind) : term('process', kind));

const CLASSES = { sent: 'flow-sent', scrap: 'flow-scrap', sample: 'flow-scrap', left: 'flow-left', stock: 'flow-left' };

function sidesOf(answer) {
  const rows = (side) =>
    drawn(answer.rows.filter((r) => r.side === side && r.mass_g > 0)).map((r) => ({
      what: t(`mass.${r.what}`),
      of: r.said || ofWhat(r),
      g: r.mass_g,
      cls: CLASSES[r.what],
    }));
  const ins = rows('in');
  const outs = rows('out');
  const off = answer.unaccounted_g;
  if (off > 0) outs.push({ what: t('mass.unaccounted'), of: '', g: off, cls: 'flow-lost' });
  if (off < 0) ins.push({ what: t('mass.gained'), of: '', g: -off, cls: 'flow-lost' });
  return [ins, outs];
}

function verdict(answer) {
  const values = { in: fmt.mass(answer.in_g), off: fmt.mass(Math.abs(answer.unaccounted_g)), allowed: fmt.mass(answer.allowed_g) };
  if (answer.unknown > 0) return el('div', { class: 'warn' }, t('balance.unknown', { n: answer.unknown }));
  if (answer.unaccounted_g === 0) return el('div', { class: 'done' }, t('balance.closes', values));
  if (answer.within) return el('div', { class: 'done' }, t('balance.within', values));
  return el('div', { class: 'trouble', role: 'note' }, t('balance.beyond', values));
}

function rowTable(answer) {
  const cells = (r) => [
    t(`balance.side.${r.side}`),
    el('span', null, t(`mass.${r.what}`), r.kind ? ` (${r.what === 'scrap' ? processOr(r.kind) : term('kind', r.kind)})` : ''),
    r.code ? link(r.type, r.code) : '',
    r.lots ? fmt.count(r.lots) : '',
    r.length_mm ? fmt.length(r.length_mm) : '',
    fmt.mass(r.mass_g),
    r.computed_g === 0 ? t('balance.weighed') : r.computed_g === r.mass_g ? t('balance.computed') : t('balance.both', { g: fmt.mass(r.computed_g) }),
  ];
  const total = (key, g) => [t(key), '', '', '', '', fmt.mass(g), ''];
  return table(
    [
      t('balance.column.side'),
      t('balance.column.what'),
      t('balance.column.which'),
      t('balance.column.lots'),
      t('balance.column.length'),
      t('balance.column.mass'),
      t('balance.column.from'),
    ],
    [
      ...answer.rows.map(cells),
      total('balance.total.in', answer.in_g),
      total('balance.total.out', answer.out_g),
      total('mass.unaccounted', answer.unaccounted_g),
    ],
    { numbers: [3, 4, 5], cls: 'mass-table' },
  );
}

function runTable(answer) {
  if (answer.run_count < 2) return null;
  return el(
    'section',
    { class: 'sheet', 'aria-labelledby': 'runs-title' },
    el('h2', { id: 'runs-title' }, t('balance.runs', { n: answer.run_count })),
    el('p', null, t('balance.runs.beyond', { n: answer.beyond_count })),
    table(
      [t('type.run'), t('balance.column.process'), t('balance.total.in'), t('balance.total.out'), t('mass.unaccounted'), t('balance.column.allowed')],
      answer.runs.slice(0, 50).map((r) => [
        link('run', r.run),
        [term('process', r.process), ' ', link('machine', r.machine)],
        fmt.mass(r.in_g),
        fmt.mass(r.out_g),
        el('span', { class: r.within ? null : 'verdict fail' }, fmt.mass(r.unaccounted_g), r.within ? '' : ` ${t('balance.beyond.mark')}`),
        fmt.mass(r.allowed_g),
      ]),
      { numbers: [2, 3, 4, 5] },
    ),
  );
}

async function saveCsv(question) {
  const text = await api.getText('/api/balance', question, 'text/csv');
  const place = URL.createObjectURL(new Blob([text], { type: 'text/csv' }));
  const name = (question.origin || 'mill').replace(/[:/]/g, '-');
  el('a', { href: place, download: `balance-${name}.csv` }).click();
  setTimeout(() => URL.revokeObjectURL(place), 10000);
}

let redraw = () => {};

function draw(question, answer) {
  const picture = el('div', { class: 'mass-picture' });
  const [ins, outs] = sidesOf(answer);
  redraw = () => put(picture, massFlow(ins, outs, Math.max(picture.clientWidth, 300), (n) => t('mass.others', { n })));
  put(
    byId('answer'),
    el(
      'section',
      { class: 'sheet', 'aria-labelledby': 'headline' },
      el('h2', { id: 'headline', tabindex: '-1' }, inWords(question)),
      verdict(answer),
      facts([
        [t('balance.total.in'), fmt.mass(answer.in_g)],
        [t('balance.total.out'), fmt.mass(answer.out_g)],
        [t('mass.unaccounted'), fmt.mass(answer.unaccounted_g)],
        [t('balance.column.allowed'), answer.run_count ? fmt.mass(answer.allowed_g) : null],
      ]),
      picture,
      el(
        'div',
        { class: 'actions' },
        el('button', { type: 'button', click: () => print() }, t('print')),
        el('button', { type: 'button', id: 'csv', click: () => saveCsv(question) }, t('save-csv')),
      ),
      el('p', { class: 'head-line' }, t('at-head', { size: answer.ledger.size }), ' ', el('span', { class: 'code', title: answer.ledger.root }, fmt.shortHash(answer.ledger.root))),
    ),
    el(
      'section',
      { class: 'sheet', 'aria-labelledby': 'rows-title' },
      el('h2', { id: 'rows-title' }, t('balance.rows')),
      el('p', { class: 'quiet' }, t('balance.how')),
      rowTable(answer),
    ),
    runTable(answer),
  );
  redraw();
}

async function ask(question) {
  put(byId('question-title'), inWords(question), el('span', { class: 'change' }, t('question.change')));
  byId('answer').setAttribute('aria-busy', 'true');
  const over = waiting(byId('answer'), 'balance.summing');
  try {
    draw(question, await api.balanceOf(question));
    byId('question').open = false;
    redraw();
    byId('headline').focus({ preventScroll: true });
  } catch (problem) {
    trouble(byId('answer'), problem);
    byId('question').open = true;
  } finally {
    over();
    byId('answer').removeAttribute('aria-busy');
  }
}

await learnArea('audit');
frame('audit');
lookBack();
const question = fromAddress();
put(byId('question-title'), t('balance.question'));
questionForm(byId('ask'), question, (asked) => {
  history.pushState(null, '', api.url('balance.html', { of: asked.origin ? null : 'mill', ...asked, size: api.past }));
  ask(asked);
});
addEventListener('popstate', () => location.reload());
addEventListener('resize', () => redraw());
if (question) ask(question);
