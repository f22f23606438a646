// Issue a certificate: which reels; all that is missing for each, with the way there; then type, statement and who
// signs.

import { mark, openMarks } from './certified.js';
import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import { link } from './parts.js';
import { findingText, lackText, problemText } from './said.js';
import { suggest } from './suggest.js';
import { t, term } from './words.js';

const TYPES = ['3.1', '2.2', '3.2'];
const AT_ONCE = 3;
const asked = new URLSearchParams(location.search);
const reels = (asked.get('reels') || '')
  .split(',')
  .map((x) => x.trim().toUpperCase())
  .filter(Boolean);
const replaces = asked.get('replaces');
const key = api.newKey();

const list = el('ul', { class: 'reels', id: 'reels' });
const said = el('div', { id: 'said', role: 'alert' });
const scan = el('input', { id: 'scan', class: 'code-in', maxlength: 40, 'aria-describedby': 'scan-hint' });
const number = el('input', { id: 'number', class: 'code-in', maxlength: 40 });
const statement = el('textarea', { id: 'statement', maxlength: 2000 });
const signer = el('input', { id: 'signer', maxlength: 200 });
const position = el('input', { id: 'position', maxlength: 200 });
const second = el('input', { id: 'second', maxlength: 200 });
const secondFor = el('input', { id: 'second-for', maxlength: 200 });
const go = el('button', { type: 'submit', class: 'main', id: 'go', disabled: true }, t('issue.go'));

let type = TYPES[0];
let complete = false;

/* --- what is missing ------------------------------------------------------------------------------ */

/** What to do about something that is missing, where one thing is to be done. */
const way = (words, page, query) => [' ', el('a', { href: api.url(page, query) }, t(`lack.next.${words}`))];
const NEXT = {
  'test-missing': (x) => way('test', 'log.html', { kind: 'test', lot: x.at.code }),
  'test-failed': (x) => way('retest', 'log.html', { kind: 'test', retest_of: x.at.code }),
  'on-hold': (x) => way('hold', 'board.html', { hold: x.at.code }),
  overtaken: (x) => way('replace', 'issue.html', { reels: reels.join(','), replaces: x.at.code }),
  certified: () => [' ', el('span', { class: 'soft' }, t('lack.next.certified'))],
};

const lack = (x) =>
  el(
    'li',
    null,
    el('strong', null, term('lack', x.code)),
    ' ',
    lackText(x),
    ' ',
    link(x.at.type, x.at.code),
    NEXT[x.code]?.(x) || null,
    x.spans ? el('span', { class: 'soft' }, ' ', fmt.spans(x.spans)) : null,
  );

function remove(code) {
  reels.splice(reels.indexOf(code), 1);
  check();
  scan.focus();
}

/** What whoever signs has to know; the first few at once. */
function toKnow(know) {
  const rest = know.slice(AT_ONCE);
  return [
    el('p', { class: 'quiet' }, t('issue.know')),
    el('ul', { class: 'lacks soft' }, know.slice(0, AT_ONCE).map(lack)),
    rest.length > 0
      ? el(
          'details',
          null,
          el('summary', null, t('and-more', { n: rest.length })),
          el('ul', { class: 'lacks soft' }, rest.map(lack)),
        )
      : null,
  ];
}

function reelItem(reel) {
  return el(
    'li',
    { 'data-reel': reel.reel },
    el(
      'div',
      { class: 'reel-head' },
      link('lot', reel.reel),
      el('span', { class: 'soft' }, [reel.construction, fmt.length(reel.length_mm)].filter(Boolean).join(', ')),
      el(
        'span',
        { class: `verdict ${reel.complete ? 'pass' : 'fail'}` },
        reel.complete ? t('issue.complete') : t('issue.missing', { n: reel.missing.length }),
      ),
      el('button', { type: 'button', 'aria-label': t('issue.remove', { reel: reel.reel }), click: () => remove(reel.reel) }, t('issue.remove.short')),
    ),
    reel.missing.length > 0 ? el('ul', { class: 'lacks' }, reel.missing.map(lack)) : null,
    reel.know.length > 0 ? toKnow(reel.know) : null,
  );
}

let asking = 0;
async function check() {
  const mine = (asking += 1);
  go.disabled = true;
  if (reels.length === 0) return put(list, el('li', { class: 'quiet' }, t('issue.none')));
  try {
    const answer = await api.certifiable({ reels: reels.join(','), type, replaces });
    if (mine !== asking) return undefined;
    complete = answer.complete;
    go.disabled = !complete;
    put(said);
    return put(list, answer.reels.map(reelItem));
  } catch (problem) {
    if (mine !== asking) return undefined;
    if (problem.status === 404 && reels.length > 0) reels.pop();
    trouble(said, problem);
    if (!(problem instanceof api.Problem)) throw problem;
    return reels.length > 0 ? check() : put(list, el('li', { class: 'quiet' }, t('issue.none')));
  }
}

function add(code) {
  const typed = code.trim().toUpperCase();
  scan.value = '';
  if (typed === '') return;
  if (!reels.includes(typed)) reels.push(typed);
  check();
}

/* --- issuing --------------------------------------------------------------------------------------- */

const someone = (name, other, as) =>
  name.value.trim() === '' ? undefined : { name: name.value.trim(), ...(other.value.trim() ? { [as]: other.value.trim() } : {}) };

function body() {
  return {
    certificate: number.value.trim().toUpperCase(),
    type,
    reels,
    ...(statement.value.trim() ? { statement: statement.value.trim() } : {}),
    ...(replaces ? { replaces } : {}),
    ...(someone(signer, position, 'position') ? { signed: someone(signer, position, 'position') } : {}),
    ...(type === '3.2' && someone(second, secondFor, 'for') ? { countersigned: someone(second, secondFor, 'for') } : {}),
    address: new URL('.', location.href).href,
  };
}

function issued(receipt) {
  const code = receipt.body.certificate;
  put(
    said,
    el(
      'div',
      { class: 'done' },
      el('strong', null, t('issue.done', { certificate: code })),
      ' ',
      el('a', { id: 'see', href: api.pageOf('certificate', code) }, t('issue.see')),
      ' ',
      el('a', { href: `/api/certificates/${encodeURIComponent(code)}.pdf` }, t('certificate.pdf')),
      el('p', { class: 'hash' }, t('receipt.head', { seq: receipt.seq, head: receipt.head })),
      (receipt.findings || []).map((f) => el('p', null, findingText(f))),
    ),
  );
  go.hidden = true;
  byId('see').focus();
}

async function issue(event) {
  event.preventDefault();
  if (go.disabled || !complete) return;
  if (number.value.trim() === '') {
    number.setAttribute('aria-invalid', 'true');
    number.focus();
    return;
  }
  go.disabled = true;
  try {
    issued(await api.append({ key, kind: 'certify', body: body() }));
  } catch (problem) {
    put(said, el('div', { class: 'trouble' }, el('strong', null, t('refused')), ' ', problemText(problem)));
    number.setAttribute('aria-invalid', String(problem.slug === 'code-taken' || problem.pointer === '/body/certificate'));
    go.disabled = false;
    if (problem.slug === 'not-complete' || problem.slug === 'on-hold') check();
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

/* --- the page ---------------------------------------------------------------------------------------- */

const field = (id, words, node, hint = null) =>
  el('div', { class: 'field' }, el('label', { for: id }, t(words)), node, hint ? el('p', { class: 'quiet', id: `${id}-hint` }, t(hint)) : null);

function types() {
  const counter = el(
    'div',
    { id: 'counter', hidden: true },
    field('second', 'issue.second', second),
    field('second-for', 'issue.second-for', secondFor, 'issue.second.hint'),
  );
  const choose = (name) => {
    type = name;
    counter.hidden = type !== '3.2';
    check();
  };
  return el(
    'fieldset',
    null,
    el('legend', null, t('issue.type')),
    TYPES.map((name) =>
      el(
        'label',
        { class: 'check' },
        el('input', { type: 'radio', name: 'type', value: name, checked: name === type, change: () => choose(name) }),
        el('span', null, el('strong', null, name), ' ', t(`issue.type.${name}`)),
      ),
    ),
    counter,
  );
}

/** The number after the newest one's, where that ends in digits. */
async function propose() {
  try {
    const [newest] = (await api.certificates({ limit: 1 })).certificates;
    const found = /^(.*?)(\d+)$/.exec(newest?.certificate || '');
    if (found && number.value === '')
      number.value = found[1] + String(Number(found[2]) + 1).padStart(found[2].length, '0');
  } catch {
    // It is typed then.
  }
}

/** Which one it replaces, and what came after that one: whoever signs the new one signs in the knowledge of it. */
function replacing(old = null) {
  const marks = old ? openMarks(old) : [];
  return [
    el('p', null, t('certificate.replaces'), ' ', link('certificate', replaces)),
    marks.length > 0
      ? el('div', { class: 'trouble' }, el('strong', null, t('issue.came-after')), el('ul', { class: 'marks' }, marks.map(mark)))
      : null,
  ];
}

async function knowReplaced() {
  try {
    put(byId('replaces'), replacing(await api.certificate(replaces)));
  } catch (problem) {
    put(byId('replaces'), el('div', { class: 'trouble' }, problemText(problem)));
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

async function main() {
  frame('issue');
  const adding = (event) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    add(scan.value);
  };
  put(
    byId('issue'),
    el('p', { class: 'caution' }, t('caution.certify')),
    replaces ? el('div', { id: 'replaces' }, replacing()) : null,
    el(
      'form',
      { class: 'issue', submit: issue, novalidate: true },
      el(
        'section',
        { class: 'sheet', 'aria-labelledby': 'reels-title' },
        el('h2', { id: 'reels-title' }, t('issue.reels')),
        field('scan', 'issue.scan', scan, 'issue.scan.hint'),
        el('button', { type: 'button', click: () => add(scan.value) }, t('issue.add')),
        list,
      ),
      el(
        'section',
        { class: 'sheet', 'aria-labelledby': 'what-title' },
        el('h2', { id: 'what-title' }, t('issue.what')),
        types(),
        field('number', 'field.certificate', number),
        field('statement', 'field.statement', statement),
        field('signer', 'issue.signer', signer),
        field('position', 'issue.position', position),
        said,
        el('div', { class: 'actions' }, go),
      ),
    ),
  );
  suggest(scan, { types: () => ['lot'], chosen: (found) => add(found.code) });
  scan.addEventListener('keydown', adding);
  scan.focus();
  check();
  propose();
  if (replaces) knowReplaced();
  try {
    signer.value = (await api.me()).name;
  } catch {
    // Whoever can't be asked who they are writes their name.
  }
}

main();
