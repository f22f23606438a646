// The fields of a form: each kind of field is drawn, read into the stored form and filled from it.
//
// A field is { node, read(wrong), fill(value) }: read gives undefined when it was left empty, and pushes {box, text} on
// `wrong` for what can't be right. Every box, and every row, says its own step of the JSON pointer (data-step), so that
// a refusal of the server finds its way to the box it is about wherever rows have been added or taken away (boxFor).

import { el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { KINDS } from './forms.js';
import { suggest } from './suggest.js';
import { measured } from './propertyrows.js';
import { problemText } from './said.js';
import { known, t, term } from './words.js';

let serial = 0;

/** The name of a field, with the unit one types it in. */
export function nameOf(spec) {
  const name = spec.words ? t(spec.words) : term('field', spec.name);
  return spec.quantity ? t('field.with-unit', { name, unit: fmt.unitOf(spec.quantity) }) : name;
}

/** A labelled box; the place for what is wrong comes with it. */
function boxed(spec, box, { wide = false, hint = null } = {}) {
  const id = `field-${(serial += 1)}`;
  const key = spec.hint || `hint.${spec.name}`;
  const words = hint || (known(key) ? t(key) : null);
  box.id = id;
  box.dataset.step = spec.name;
  box.setAttribute('aria-describedby', `${id}-hint ${id}-wrong`);
  if (spec.need) box.setAttribute('aria-required', 'true');
  const node = el(
    'div',
    { class: wide ? 'field wide' : 'field' },
    el('label', { for: id }, nameOf(spec), spec.need ? el('span', { class: 'soft' }, ` ${t('needed')}`) : null),
    el('span', { class: 'hint', id: `${id}-hint` }, words || ''),
    box,
    el('span', { class: 'wrong', id: `${id}-wrong` }),
  );
  return node;
}

/** A box of one line, read by `toValue` (NaN or null: can't be read) and filled by `toText`. */
function line(spec, attrs, toValue, toText, of = undefined) {
  const box = el('input', attrs);
  const node = boxed(spec, box, { wide: spec.wide });
  if (of !== undefined) suggest(box, { types: () => (of ? [of] : null) });
  let was = null; /* what the box was filled with: left as it is, it stays the number it came from */
  return {
    node,
    box,
    fill(value) {
      if (value === undefined || value === null) return;
      was = { value, text: toText(value) };
      box.value = was.text;
    },
    read(wrong) {
      const text = box.value.trim();
      if (was && text !== '' && text === was.text) return was.value;
      if (text === '') {
        if (spec.need) wrong.push({ box, text: t('wrong.needed') });
        return undefined;
      }
      const value = toValue(text);
      if (value === null || Number.isNaN(value)) {
        wrong.push({ box, text: t(spec.quantity || spec.as === 'whole' ? 'wrong.figure' : 'wrong.text') });
        return undefined;
      }
      return value;
    },
  };
}

const upper = (text) => text.toUpperCase();
const same = (text) => text;

function area(spec, toValue, toText, cls = null) {
  const box = el('textarea', { class: cls, maxlength: 20000 });
  return {
    node: boxed(spec, box, { wide: true }),
    fill(value) {
      if (value !== undefined) box.value = toText(value);
    },
    read(wrong) {
      const value = box.value.trim() === '' ? undefined : toValue(box.value);
      if (value === undefined && spec.need) wrong.push({ box, text: t('wrong.needed') });
      return value;
    },
  };
}

function choice(spec) {
  const box = el(
    'select',
    null,
    el('option', { value: '' }, t('choose')),
    spec.options.map((o) => el('option', { value: o }, term(spec.group, o))),
  );
  return {
    node: boxed(spec, box),
    box,
    fill(value) {
      if (value === undefined) return;
      if (!spec.options.includes(value)) box.append(el('option', { value }, term(spec.group, value)));
      box.value = value;
    },
    read(wrong) {
      if (box.value === '' && spec.need) wrong.push({ box, text: t('wrong.needed') });
      return box.value || undefined;
    },
  };
}

/**
 * Fields side by side: { node, read, fill } for an object. What was recorded and has no field stays as it was. A field
 * with `when: {name: value}` is there only while the field of that name has that value.
 */
function several(specs, whole = {}) {
  const made = specs.map((spec) => [spec, makeField(spec, whole)]);
  const named = Object.fromEntries(made.map(([spec, field]) => [spec.name, field]));
  const fits = (spec) => Object.entries(spec.when || {}).every(([name, value]) => named[name].box.value === value);
  const conditional = made.filter(([spec]) => spec.when);
  const show = () => conditional.forEach(([spec, field]) => (field.node.hidden = !fits(spec)));
  for (const name of new Set(conditional.flatMap(([spec]) => Object.keys(spec.when))))
    named[name].box.addEventListener('change', show);
  show();
  let others = {};
  return {
    parts: made.map(([, f]) => f.node),
    fill(value) {
      others = Object.fromEntries(Object.entries(value || {}).filter(([name]) => !named[name]));
      for (const [spec, field] of made) field.fill(value?.[spec.name]);
      show();
    },
    read(wrong) {
      const out = { ...others };
      for (const [spec, field] of made) {
        if (!fits(spec)) continue;
        const value = field.read(wrong);
        if (value !== undefined) out[spec.name] = value;
      }
      return out;
    },
  };
}

function group(spec) {
  const inner = several(spec.fields);
  const node = el(
    'fieldset',
    { class: 'wide rows-box', 'data-step': spec.name, tabindex: '-1' },
    el('legend', null, term('field', spec.name)),
    el('div', { class: 'fields' }, inner.parts),
    el('span', { class: 'wrong' }),
  );
  return {
    node,
    fill: (value) => inner.fill(value),
    read(wrong) {
      const value = inner.read(wrong);
      if (Object.keys(value).length > 0) return value;
      if (spec.need) wrong.push({ box: node, text: t('wrong.needed') });
      return undefined;
    },
  };
}

/** Rows that can be added and taken away: an array of objects. */
function rows(spec) {
  const list = [];
  const holder = el('div');

  function renumber() {
    list.forEach((row, i) => {
      const name = t(`row.${spec.name}`, { number: i + 1 });
      row.name.textContent = name;
      row.drop.setAttribute('aria-label', t('row.drop', { row: name }));
    });
  }

  function drop(row) {
    list.splice(list.indexOf(row), 1);
    row.node.remove();
    renumber();
    more.focus();
  }

  function add(value, focus) {
    const row = { inner: several(spec.fields), name: el('h3') };
    row.drop = el('button', { type: 'button', click: () => drop(row) }, t('row.take-away'));
    row.node = el(
      'div',
      { class: 'rows-box', 'data-step': '#' },
      el('div', { class: 'rows-head' }, row.name, row.drop),
      el('div', { class: 'fields' }, row.inner.parts),
    );
    const numbered = Object.fromEntries(
      spec.fields.filter((f) => f.numbered).map((f) => [f.name, String(list.length + 1)]),
    );
    row.inner.fill(value || numbered);
    list.push(row);
    holder.append(row.node);
    renumber();
    if (focus) row.node.querySelector('input, select, textarea').focus();
  }

  const more = el('button', { type: 'button', click: () => add(null, true) }, t(`row.add.${spec.name}`));
  const node = el(
    'fieldset',
    { class: 'wide', 'data-step': spec.name, tabindex: '-1' },
    el('legend', null, nameOf(spec)),
    holder,
    more,
    el('span', { class: 'wrong' }),
  );
  for (let i = 0; i < spec.least; i += 1) add(null, false);
  return {
    node,
    fill(value) {
      if (!Array.isArray(value)) return;
      list.splice(0).forEach((row) => row.node.remove());
      value.forEach((v) => add(v, false));
    },
    read: (wrong) => (list.length === 0 && !spec.need ? undefined : list.map((row) => row.inner.read(wrong))),
  };
}

/** Several out of a list, ticked. */
function choices(spec) {
  const boxes = spec.options.map((value) => el('input', { type: 'checkbox', value }));
  const node = el(
    'fieldset',
    { class: 'wide', 'data-step': spec.name, tabindex: '-1' },
    el('legend', null, nameOf(spec)),
    known(`hint.${spec.name}`) ? el('p', { class: 'hint' }, t(`hint.${spec.name}`)) : null,
    el(
      'div',
      { class: 'choices' },
      boxes.map((box) => el('label', null, box, el('span', null, term(spec.group, box.value)))),
    ),
    el('span', { class: 'wrong' }),
  );
  return {
    node,
    fill(value) {
      for (const box of boxes) box.checked = (value || []).includes(box.value);
    },
    read() {
      const ticked = boxes.filter((box) => box.checked).map((box) => box.value);
      return ticked.length > 0 ? ticked : undefined;
    },
  };
}

/** A mark that is set or not; not set, it is left out. */
function tick(spec) {
  const box = el('input', { type: 'checkbox', 'data-step': spec.name });
  const node = el('label', { class: 'check' }, box, el('span', null, nameOf(spec)));
  let was;
  return {
    node,
    box,
    fill(value) {
      was = value;
      box.checked = value === true;
    },
    read: () => (box.checked ? true : was === false ? false : undefined),
  };
}

/** Names and values, a line each: "C 8200". */
function pairs(spec) {
  const read = (text) =>
    Object.fromEntries(
      text
        .split('\n')
        .map((l) => l.trim())
        .filter(Boolean)
        .map((l) => {
          const cut = l.search(/[\s:=]/);
          const name = cut < 0 ? l : l.slice(0, cut);
          const value = cut < 0 ? '' : l.slice(cut + 1).replace(/^[\s:=]+/, '');
          return [name, /^-?\d+$/.test(value) ? Number(value) : value];
        }),
    );
  return area(spec, read, (value) =>
    Object.entries(value)
      .map(([n, v]) => `${n} ${v}`)
      .join('\n'),
  );
}

/** What a note is about: a type of thing and its code. */
function origin(spec) {
  const types = [
    'lot',
    'heat',
    'run',
    'batch',
    'weld',
    'test',
    'certificate',
    'machine',
    'instrument',
    'consignment',
    'supply',
  ];
  const type = el(
    'select',
    { 'aria-label': t('question.type') },
    types.map((o) => el('option', { value: o }, t(`type.${o}`))),
  );
  const inner = line(spec, { class: 'code-in' }, upper, same, '');
  inner.node.querySelector('.combo').before(type);
  return {
    node: inner.node,
    fill(value) {
      if (!value) return;
      const cut = value.indexOf(':');
      type.value = value.slice(0, cut);
      inner.fill(value.slice(cut + 1));
    },
    read(wrong) {
      const code = inner.read(wrong);
      return code && `${type.value}:${code}`;
    },
  };
}

/**
 * An entry, typed as its number and kept as its key. What it is is said below the box; a form of its body follows it.
 */
function entry(spec, whole) {
  let found = null;
  const said = el('div', { class: 'quiet', 'aria-live': 'polite' });
  const box = el('input', { inputmode: 'numeric' });
  const node = boxed(spec, box);
  node.append(said);
  async function look() {
    found = null;
    put(said);
    if (!/^\d+$/.test(box.value.trim())) return;
    try {
      found = await api.entry(box.value.trim());
      put(said, t('entry-is', { kind: term('entry', found.kind), at: fmt.stamp(found.at), by: found.by }));
      whole.body?.show(found);
    } catch (problem) {
      put(said, problemText(problem));
    }
  }
  box.addEventListener('change', look);
  return {
    node,
    fill(value) {
      if (!value) return;
      box.value = value;
      look();
    },
    read(wrong) {
      if (!found) wrong.push({ box, text: t('wrong.entry') });
      return found?.key;
    },
  };
}

/** The right body of an entry that is corrected: the form of its kind, filled with what was recorded. */
function body(spec, whole) {
  const node = el(
    'fieldset',
    { class: 'wide', 'data-step': spec.name, tabindex: '-1' },
    el('legend', null, t('field.body')),
    el('p', { class: 'quiet' }, t('hint.body')),
    el('span', { class: 'wrong' }),
  );
  let inner = null;
  const own = {
    node,
    fill() {},
    show(entry) {
      if (!KINDS[entry.kind]) {
        inner = null;
        put(
          node,
          el('legend', null, t('field.body')),
          el('p', { class: 'warn' }, t('body.no-form')),
          el('span', { class: 'wrong' }),
        );
        return;
      }
      inner = several(KINDS[entry.kind].fields);
      put(
        node,
        el('legend', null, t('body-of', { kind: term('entry', entry.kind) })),
        el('div', { class: 'fields' }, inner.parts),
        el('span', { class: 'wrong' }),
      );
      inner.fill(entry.body);
    },
    read(wrong) {
      if (!inner) wrong.push({ box: node, text: t('wrong.entry') });
      return inner?.read(wrong);
    },
  };
  whole.body = own;
  return own;
}

const boxTime = (text) => new Date(text).toISOString().slice(0, 19);
const readTime = (text) => `${text.length === 16 ? `${text}:00` : text}Z`;

const MAKERS = {
  code: (s) => line(s, { class: 'code-in', maxlength: 40 }, upper, same, s.of ? s.of : undefined),
  text: (s) => line(s, { maxlength: 2000 }, same, same),
  long: (s) => area(s, (text) => text.trim(), same),
  whole: (s) =>
    line(
      s,
      { inputmode: 'numeric' },
      (text) => (Number.isInteger(fmt.readNumber(text)) ? fmt.readNumber(text) : NaN),
      String,
    ),
  quantity: (s) =>
    line(
      s,
      { inputmode: 'decimal' },
      (text) => fmt.readQuantity(text, s.quantity),
      (value) => fmt.typed(value, s.quantity),
    ),
  time: (s) => line(s, { type: 'datetime-local', step: 1 }, readTime, boxTime),
  codes: (s) =>
    area(
      s,
      (text) =>
        text
          .toUpperCase()
          .split(/[\s,;]+/)
          .filter(Boolean),
      (list) => list.join('\n'),
      'code-in',
    ),
  labels: (s) =>
    area(
      s,
      (text) =>
        text
          .split('\n')
          .map((one) => one.trim())
          .filter(Boolean),
      (list) => list.join('\n'),
    ),
  figures: (s) =>
    line(
      s,
      {},
      (text) => {
        const list = text.split(/[\s;]+/).map((one) => fmt.readQuantity(one, s.quantity));
        return list.some(Number.isNaN) ? NaN : list;
      },
      (list) => list.map((one) => fmt.typed(one, s.quantity)).join(' '),
    ),
  choice,
  choices,
  tick,
  measured: (s) => measured(s, nameOf(s)),
  group,
  rows,
  pairs,
  origin,
  entry,
  body,
};

/** A field for a row of the table of kinds. `whole` is shared by the fields of one form. */
function makeField(spec, whole) {
  return MAKERS[spec.as](spec, whole);
}

/** All fields of a kind of entry: { parts, fill(body), read(wrong) }. */
export const formOf = (kind) => several(KINDS[kind].fields, {});

/** The pointer of a box: the steps from the form down to it; a row's is its place among its like. */
function pointerOf(box, form) {
  const steps = [];
  for (let node = box; node && node !== form; node = node.parentElement) {
    const { step } = node.dataset;
    if (step === '#') steps.unshift([...node.parentElement.children].indexOf(node));
    else if (step) steps.unshift(step);
  }
  return `/${steps.join('/')}`;
}

/** The box of a form that a pointer is about, or that of the nearest thing around it; null when there is none. */
export function boxFor(form, pointer) {
  const boxes = new Map([...form.querySelectorAll('[data-step]')].map((box) => [pointerOf(box, form), box]));
  for (let at = pointer || ''; at; at = at.slice(0, at.lastIndexOf('/'))) {
    const box = boxes.get(at);
    if (box && box.dataset.step !== '#') return box.dataset.step === 'body' && box.matches('.fields') ? null : box;
  }
  return null;
}
