// What came back: entries that the server refused, each with the reason, to be put right and sent again, or dropped
// with a reason.

import { el, put } from '../dom.js';
import * as queue from '../queue.js';
import { leaves } from './leaves.js';
import { drawOthers } from './others.js';
import { quantityOf } from '../units.js';
import { read, t, term, typed, unit } from './say.js';
import { problemText, problemWords } from '../said.js';

/** A copy with one leaf changed; an empty text takes the leaf away. */
function withLeaf(body, [name, ...rest], value) {
  const copy = Array.isArray(body) ? [...body] : { ...body };
  if (rest.length > 0) copy[name] = withLeaf(copy[name], rest, value);
  else if (value === undefined && !Array.isArray(copy)) delete copy[name];
  else if (value === undefined) copy.splice(Number(name), 1);
  else copy[name] = value;
  return copy;
}

const nameOf = (path) => path.map((p) => (/^\d+$/.test(p) ? String(Number(p) + 1) : term('field', p))).join(' ');

let serial = 0;

function editor(row, over) {
  const boxes = leaves(row.body).map(([path, value]) => {
    const q = typeof value === 'number' ? quantityOf(path.at(-1)) : null;
    const was = q ? { stored: value, text: typed(value, q) } : { text: String(value) };
    const id = `right-${(serial += 1)}`;
    const input = el('input', { id, value: was.text, 'data-path': `/${path.join('/')}`, autocomplete: 'off' });
    if (row.problem?.pointer === `/body/${path.join('/')}`) input.setAttribute('aria-invalid', 'true');
    const value1 = () => {
      const text = input.value.trim();
      if (text === was.text) return value;
      if (text === '') return undefined;
      if (q) return read(text, q);
      if (typeof value === 'number') return /^-?\d+$/.test(text) ? Number(text) : null;
      if (typeof value === 'boolean') return text === 'true';
      return /^(lot|run|heat|batch|supply|test|hold|consignment|machine|order|line|weld|instrument)$/.test(path.at(-1))
        ? text.toUpperCase()
        : text;
    };
    return {
      path,
      input,
      value: value1,
      node: el(
        'div',
        { class: 'field' },
        el('label', { for: id }, q ? t('field.with-unit', { name: nameOf(path), unit: unit(q) }) : nameOf(path)),
        input,
      ),
    };
  });
  async function send(event) {
    event.preventDefault();
    let body = row.body;
    for (const b of [...boxes].reverse()) {
      const value = b.value();
      b.input.removeAttribute('aria-invalid');
      if (value === null) {
        b.input.setAttribute('aria-invalid', 'true');
        b.input.focus();
        return;
      }
      body = withLeaf(body, b.path, value);
    }
    await queue.putRight(row.n, body);
    over();
  }
  return el(
    'form',
    { submit: send, novalidate: true, class: 'right' },
    el(
      'div',
      { class: 'fields' },
      boxes.map((b) => b.node),
    ),
    el(
      'div',
      { class: 'ask-go' },
      el('button', { type: 'submit', class: 'main' }, t('back.send')),
      el('button', { type: 'button', click: over }, t('cancel')),
    ),
  );
}

function dropper(row, over) {
  const id = `drop-${row.n}`;
  const input = el('input', { id, value: t('back.drop-reason'), maxlength: 2000 });
  return el(
    'form',
    {
      class: 'right',
      submit: async (event) => {
        event.preventDefault();
        if (input.value.trim()) {
          await queue.drop(row.n, input.value.trim());
          over();
        }
      },
    },
    el('div', { class: 'field' }, el('label', { for: id }, t('back.why')), input),
    el(
      'div',
      { class: 'ask-go' },
      el('button', { type: 'submit', class: 'stop' }, t('back.drop')),
      el('button', { type: 'button', click: over }, t('cancel')),
    ),
  );
}

function item(row, behind) {
  const place = el('div');
  const buttons = el('div', { class: 'ask-go' });
  const over = () => {
    put(place);
    buttons.hidden = false;
  };
  const open = (make) => () => {
    buttons.hidden = true;
    put(place, make(row, over));
    place.querySelector('[aria-invalid], input, button').focus();
  };
  put(
    buttons,
    el('button', { type: 'button', class: 'main', click: open(editor) }, t('back.right')),
    el('button', { type: 'button', click: open(dropper) }, t('back.drop')),
  );
  return el(
    'li',
    { class: 'back', 'data-key': row.key },
    el(
      'p',
      null,
      el('strong', null, row.say?.text || term('entry', row.kind)),
      ' ',
      el('span', { class: 'tag' }, term('entry', row.kind)),
      row.at ? el('span', { class: 'soft' }, ` ${row.at.slice(0, 16).replace('T', ' ')} UTC`) : null,
    ),
    el(
      'p',
      { class: 'why' },
      el('span', { 'aria-hidden': 'true' }, '\u25b2 '),
      problemWords(row.problem.slug),
      ' ',
      problemText(row.problem),
    ),
    behind > 0 ? el('p', { class: 'soft' }, t('back.behind', { n: behind })) : null,
    place,
    buttons,
  );
}

/** Draw what came back, and what waits, into `place`. A form that is open there is left alone. */
export async function draw(place) {
  const rows = await queue.waiting();
  const back = rows.filter((r) => r.problem);
  const others = await queue.ofOthers();
  const theirs = new Set(others.map((r) => r.key));
  const wait = rows.filter((r) => !r.problem && !theirs.has(r.key));
  const keys = `${rows.map((r) => `${r.key}${r.problem ? '!' : ''}`).join()} ${queue.who.sends} ${others.length}`;
  if (place.dataset.keys === keys && place.firstChild) return;
  if (
    place.querySelector('form.right') &&
    [...back, ...others].some((r) => place.querySelector('form.right').closest('[data-key]')?.dataset.key.includes(r.key))
  )
    return;
  place.dataset.keys = keys;
  put(
    place,
    back.length > 0 ? el('h2', null, t('back.title')) : null,
    back.length > 0
      ? el(
          'ul',
          { class: 'backs' },
          back.map((row) =>
            item(row, wait.filter((w) => queue.buildsOn(w, row)).length),
          ),
        )
      : null,
    wait.length > 0 ? el('h2', null, t('back.waiting')) : null,
    wait.length > 0
      ? el(
          'ol',
          { class: 'waits' },
          wait
            .slice(0, 50)
            .map((row) =>
              el(
                'li',
                null,
                row.say?.text || term('entry', row.kind),
                ' ',
                el('span', { class: 'tag' }, term('entry', row.kind)),
              ),
            ),
        )
      : null,
    others.length > 0 ? drawOthers(others) : null,
    back.length + wait.length + others.length === 0 ? el('p', { class: 'quiet' }, t('back.none')) : null,
  );
}
