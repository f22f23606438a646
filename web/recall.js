// Recall: state the suspicion, see what it touched, contain it.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { lotTable } from './affected.js';
import { goneOut, papers, stillHere } from './contain.js';
import { flow, inOrder } from './flow.js';
import { frame, trouble } from './frame.js';
import { asked, holdDialog } from './hold.js';
import { letters } from './letters.js';
import { link } from './parts.js';
import { lookBack } from './past.js';
import { fromAddress, inWords, originOf, questionForm } from './question.js';
import { patterns } from './ribbon.js';
import { windows } from './windows.js';
import { learnArea, t } from './words.js';

/** Lots of the first page of an answer: enough to draw the screen at once; the others follow behind it. */
const FIRST = 150;

/* --- what the answer says ------------------------------------------------------------------------- */

/** How to say how many lots of a stage are certain. */
function sureness(stage) {
  const share = stage.certain === 0 ? 'none' : stage.certain === stage.lots ? 'all' : 'some';
  return `recall.last.${share}${stage.lots === 1 ? '.one' : ''}`;
}

function headline(question, answer) {
  const stages = inOrder(answer.totals);
  const last = question.direction === 'back' ? stages[0] : stages[stages.length - 1];
  const { type, code } = originOf(question);
  const what = t('question.about', { type: t(`type.${type}`), code });
  const out = answer.containment.consignments.reduce((sum, c) => sum + c.reels.length, 0);
  if (!last) return el('p', { class: 'headline' }, t('recall.nothing', { what }));
  return [
    el(
      'p',
      { class: 'headline' },
      t(`recall.touched.${question.direction || 'forward'}`, { what, n: answer.count }),
      ' ',
      el(
        'span',
        { class: 'big' },
        t(sureness(last), {
          lots: t(`kinds.${last.kind}`, { n: last.lots }),
          certain: last.certain,
          length: fmt.length(last.affected_mm),
          mass: last.affected_g === null ? t('recall.mass.unknown') : fmt.mass(last.affected_g),
        }),
      ),
    ),
    el(
      'p',
      null,
      t('recall.still', { n: answer.containment.count }),
      ' ',
      out === 0
        ? t('recall.none-out')
        : t('recall.out', {
            lots: t('lots', { n: out }),
            n: new Set(answer.containment.consignments.map((c) => c.consignee)).size,
          }),
    ),
  ];
}

const headLine = (answer) =>
  el(
    'p',
    { class: 'head-line' },
    el('span', null, t('at-head', { size: answer.ledger.size })),
    el(
      'span',
      null,
      t('root'),
      ' ',
      el('span', { class: 'code', title: answer.ledger.root }, fmt.shortHash(answer.ledger.root)),
    ),
  );

function heatsReached(answer) {
  if (!answer.heats) return null;
  return el(
    'section',
    { class: 'sheet', 'aria-labelledby': 'heats-title' },
    el('h2', { id: 'heats-title' }, t('recall.heats', { n: answer.heats.length })),
    el(
      'p',
      null,
      answer.heats.map((heat) => [link('heat', heat), ' \u00a0 ']),
    ),
  );
}

/* --- asking --------------------------------------------------------------------------------------- */

async function saveCsv(question, said) {
  try {
    const text = await api.traceCsv(question);
    const place = URL.createObjectURL(new Blob([text], { type: 'text/csv' }));
    const { type, code } = originOf(question);
    el('a', { href: place, download: `recall-${type}-${code.replaceAll('/', '_')}.csv` }).click();
    setTimeout(() => URL.revokeObjectURL(place), 10000);
  } catch (problem) {
    trouble(said, problem);
  }
}

function draw(question, answer) {
  let rows = answer.lots;
  let complete = rows.length >= answer.count;
  const here = el('section', { class: 'sheet', 'aria-labelledby': 'here-title' });
  const out = el('section', { class: 'sheet', 'aria-labelledby': 'out-title' });
  const said = el('div', { 'aria-live': 'polite' });
  const lots = lotTable(answer);
  /* a hold that is the origin itself is no question of its own */
  const keep = originOf(question).type === 'hold' ? null : asked(question, answer.ledger);
  const hold = () =>
    holdDialog(originOf(question), inWords(question), rows, keep, () => {
      // What is on hold now is the server's to say; the answer is asked for again once the dialog is gone.
      document.querySelector('dialog').addEventListener('close', () => ask(question));
    });
  const contain = () => {
    put(here, stillHere(answer, rows, complete, hold));
    put(out, goneOut(answer), letters(inWords(question), answer, rows, complete), papers(rows));
  };
  contain();
  put(
    byId('answer'),
    el(
      'section',
      { class: 'sheet', 'aria-labelledby': 'headline' },
      el('h2', { id: 'headline', class: 'visually-hidden', tabindex: '-1' }, t('recall.answer')),
      headline(question, answer),
      headLine(answer),
      el(
        'div',
        { class: 'actions' },
        el('button', { type: 'button', click: () => print() }, t('print')),
        el('button', { type: 'button', id: 'csv', click: () => saveCsv(question, said) }, t('save-csv')),
      ),
      said,
      answer.totals.length > 0 ? flow(answer.totals, (kind) => lots.stage(kind)) : null,
    ),
    heatsReached(answer),
    el('div', { class: 'two' }, here, out),
    el('div', { class: 'spaced' }, lots.node),
  );
  lots.take(rows);
  return (whole) => {
    rows = whole.lots;
    complete = true;
    contain();
    lots.take(rows);
  };
}

let asking = 0;

async function ask(question) {
  const mine = (asking += 1);
  const began = performance.now();
  put(byId('question-title'), inWords(question), el('span', { class: 'change' }, t('question.change')));
  byId('answer').setAttribute('aria-busy', 'true');
  delete byId('answer').dataset.complete;
  try {
    const answer = await api.trace(question, { limit: FIRST });
    if (mine !== asking) return;
    answer.count ??= answer.lots.length;
    const rest = draw(question, answer);
    byId('question').open = false;
    byId('headline').focus({ preventScroll: true });
    requestAnimationFrame(() =>
      setTimeout(() => {
        byId('answer').dataset.drawnMs = String(Math.round(performance.now() - began));
      }),
    );
    if (answer.lots.length < answer.count) {
      const whole = await api.trace(question);
      if (mine === asking) rest(whole);
    }
    byId('answer').dataset.complete = 'true';
  } catch (problem) {
    if (mine !== asking) return;
    trouble(byId('answer'), problem);
    byId('answer').append(...[windows(question, problem)].filter(Boolean));
    byId('question').open = true;
  } finally {
    byId('answer').removeAttribute('aria-busy');
  }
}

function main() {
  frame('recall');
  lookBack();
  patterns();
  const question = fromAddress();
  put(byId('question-title'), t('question.title'));
  questionForm(byId('ask'), question, (next) => {
    history.pushState(null, '', api.url('recall.html', next));
    ask(next);
  });
  addEventListener('popstate', () => location.reload());
  addEventListener('beforeprint', () => {
    for (const fold of byId('answer').querySelectorAll('details')) fold.open = true;
  });
  if (question) ask(question);
}

await learnArea('quality');
main();
