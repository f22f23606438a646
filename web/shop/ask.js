// What the operator is asked: one box for all of it. The scan box takes codes; while a figure is asked it takes the
// figure, with keys on the screen for gloves. Enter confirms, Escape leaves. A form is asked where a step needs more
// than one thing.

import { byId, el, put } from '../dom.js';
import { read, readWhole, t, typed, unit } from './say.js';
import { asCode } from './codes.js';

let open = null; /* the question that is asked now: { take(text), cancel() } */

const box = () => byId('scan');
const panel = () => byId('ask');

/** Whether something is asked just now. */
export const asking = () => open !== null;

/** What was typed or scanned, when it is an answer. */
export const answer = (text, scanned = false) => open.take(text, scanned);

export const cancel = () => open?.cancel();

function label(text) {
  byId('scan-label').textContent = text;
}

/** The box ready for the next code. */
export function ready() {
  if (open) return;
  const { activeElement } = document;
  if (activeElement?.closest?.('dialog, #stop')) return;
  box().focus({ preventScroll: true });
}

/** Back to scanning: what a scan means is said again. */
let idle = () => '';
export function idleText(make) {
  idle = make;
  if (!open) label(idle());
}

function end() {
  open = null;
  put(panel());
  panel().hidden = true;
  document.body.classList.remove('asking', 'filling');
  box().value = '';
  box().disabled = false;
  label(idle());
  ready();
}

/** On a narrow screen: what is asked right below the bar, which is higher while the server is away. */
export function inView() {
  if (!open || !matchMedia('(max-width: 760px)').matches) return;
  const top = (id, side) => byId(id).getBoundingClientRect()[side];
  scrollBy(0, top('desk', 'top') - top('bar', 'bottom') - 6);
}

function begin(question, title, nodes) {
  open = question;
  put(panel(), el('h2', { id: 'ask-title', class: question.plain ? 'visually-hidden' : null }, title), nodes);
  panel().hidden = false;
  document.body.classList.add('asking');
  inView();
}

function keypad(extra) {
  const press = (key) => () => {
    const field = box();
    if (key === 'back') field.value = field.value.slice(0, -1);
    else field.value += key;
    field.dispatchEvent(new Event('input'));
    field.focus({ preventScroll: true });
  };
  const decimal = typed(1500, 'length').replace(/[0-9]/g, '') || '.';
  const key = (k, name = null, value = k) =>
    el(
      'button',
      { type: 'button', tabindex: '-1', 'aria-label': name, class: k === '0' ? 'zero' : null, click: press(value) },
      k,
    );
  return el(
    'div',
    { class: 'keypad', role: 'group', 'aria-label': t('keypad') },
    ['7', '8', '9'].map((k) => key(k)),
    key('\u232b', t('keypad.back'), 'back'),
    ['4', '5', '6', decimal, '1', '2', '3', extra || '00', '0'].map((k) => key(k)),
  );
}

/**
 * Ask for one figure: { title, about (nodes), quantities: ['length', 'mass'] (none: a whole number), initial (stored),
 * optional (may be left empty; `empty` says what that means), echo(value, quantity) -> text, check(value, quantity) -> what is wrong or null,
 * extra: [{label, value}] (answers that are a tap), reads(text) -> value (instead of a figure), pad (one more key), go }
 * Resolves to { value, quantity }, value null when left empty where that may be; null when left.
 */
export function figure(spec) {
  return new Promise((resolve) => {
    let quantity = spec.quantities?.[0] || null;
    const was =
      spec.initial === undefined || spec.initial === null
        ? null
        : { stored: spec.initial, text: quantity ? typed(spec.initial, quantity) : String(spec.initial) };
    const said = el('p', { class: 'echo', 'aria-live': 'polite' });
    const field = box();
    const units = el('div', { class: 'pick' });

    function name() {
      label(quantity ? t('ask.in', { what: spec.title, unit: unit(quantity) }) : spec.title);
    }
    function drawUnits() {
      put(
        units,
        (spec.quantities || []).length > 1
          ? spec.quantities.map((q) =>
              el(
                'button',
                {
                  type: 'button',
                  'aria-pressed': String(q === quantity),
                  click: () => {
                    quantity = q;
                    drawUnits();
                    name();
                    echo();
                    field.focus();
                  },
                },
                `${t(`quantity.${q}`)} (${unit(q)})`,
              ),
            )
          : null,
      );
    }

    /** The text as a figure; a unit typed with it may be that of the other quantity. */
    function understand(text) {
      if (spec.reads) return { value: spec.reads(text), quantity };
      if (!quantity) return { value: readWhole(text), quantity };
      for (const q of [quantity, ...(spec.quantities || []).filter((x) => x !== quantity)]) {
        const value = q === quantity || /[a-z]/i.test(text) ? read(text, q, q === quantity ? was : null) : null;
        if (value !== null) return { value, quantity: q };
      }
      return { value: null, quantity };
    }

    function echo() {
      const text = field.value.trim();
      said.className = 'echo';
      if (!text) return put(said, spec.optional ? spec.empty || t('ask.may-be-empty') : '');
      const { value, quantity: q } = understand(text);
      const bad = value === null ? null : spec.check?.(value, q);
      if (bad) said.className = 'echo wrong-now';
      return put(said, value === null ? '' : bad || spec.echo?.(value, q) || '');
    }

    function wrong(text) {
      put(said, text);
      said.className = 'echo wrong-now';
      field.select();
    }

    const question = {
      plain: true,
      take(text, scanned) {
        if (text === '' && spec.optional) return finish({ value: null, quantity });
        if (scanned) return wrong(t('ask.code-instead', { code: text.toUpperCase() }));
        const { value, quantity: q } = understand(text);
        if (value === null || (typeof value === 'number' && value < 0)) {
          return wrong(
            /^[a-z].*\d/i.test(text)
              ? t('ask.code-instead', { code: text.toUpperCase() })
              : t('ask.no-figure', { text }),
          );
        }
        const bad = spec.check?.(value, q);
        return bad ? wrong(bad) : finish({ value, quantity: q });
      },
      cancel: () => finish(null),
    };
    function finish(value) {
      field.removeEventListener('input', echo);
      end();
      resolve(value);
    }
    begin(question, spec.title, [
      spec.about || null,
      units,
      said,
      el(
        'div',
        { class: 'ask-body' },
        keypad(spec.pad),
        el(
          'div',
          { class: 'ask-go' },
          el(
            'button',
            { type: 'button', class: 'main go', click: () => question.take(field.value.trim()) },
            spec.go || t('confirm'),
          ),
          (spec.extra || []).map((x) =>
            el('button', { type: 'button', click: () => finish({ value: x.value, quantity, extra: true }) }, x.label),
          ),
          el('button', { type: 'button', click: question.cancel }, t('cancel')),
        ),
      ),
    ]);
    drawUnits();
    name();
    field.value = was ? was.text : '';
    field.addEventListener('input', echo);
    echo();
    field.focus({ preventScroll: true });
    field.select();
  });
}

/**
 * Ask for a choice: [{ value, label, cls }]; the first is taken by Enter in the empty box unless `typed(text)` makes
 * another of it.
 * Resolves to the value; null when left.
 */
export function choose({ title, about, options, typed: own = null, label: boxLabel = null, first = true }) {
  return new Promise((resolve) => {
    const said = el('p', { class: 'echo', role: 'status' });
    const question = {
      plain: !boxLabel /* the box says it */,
      take(text) {
        if (text === '') return first ? finish(options[0].value) : undefined;
        const value = own ? own(text) : null;
        if (value !== null) return finish(value);
        put(said, t('ask.choose-first'));
        box().select(); /* the next scan stands alone */
        return undefined;
      },
      cancel: () => finish(null),
    };
    function finish(value) {
      end();
      resolve(value);
    }
    begin(question, title, [
      about || null,
      said,
      el(
        'div',
        { class: 'options' },
        options.map((o, i) =>
          el(
            'button',
            { type: 'button', class: o.cls || (i === 0 && first ? 'main go' : null), click: () => finish(o.value) },
            o.label,
          ),
        ),
        el('button', { type: 'button', click: question.cancel }, t('cancel')),
      ),
    ]);
    label(boxLabel || title);
    box().value = '';
    box().focus({ preventScroll: true });
  });
}

let serial = 0;

function formField(spec) {
  const id = `ask-${(serial += 1)}`;
  const was =
    spec.quantity && spec.value !== null && spec.value !== undefined
      ? { stored: spec.value, text: typed(spec.value, spec.quantity) }
      : null;
  const shown = was ? was.text : (spec.value ?? '');
  const name = spec.quantity ? t('field.with-unit', { name: spec.label, unit: unit(spec.quantity) }) : spec.label;
  let input;
  if (spec.options) {
    input = el(
      'div',
      { class: 'pick', role: 'group', 'aria-label': name },
      spec.options.map((o) =>
        el(
          'button',
          {
            type: 'button',
            'data-value': o.value,
            'aria-pressed': String(o.value === spec.value),
            click: (event) => {
              for (const b of event.currentTarget.parentElement.children)
                b.setAttribute('aria-pressed', String(b === event.currentTarget));
              spec.changed?.(o.value);
            },
          },
          o.label,
        ),
      ),
    );
  } else {
    input = el('input', {
      id,
      class: spec.code ? 'code-in' : null,
      inputmode: spec.list ? null : spec.quantity ? 'decimal' : spec.whole ? 'numeric' : null,
      value: shown,
      maxlength: spec.code ? 40 : 2000,
      autocomplete: 'off',
      'aria-describedby': `${id}-wrong`,
      'data-name': spec.name,
    });
  }
  const wrong = el('span', { class: 'wrong', id: `${id}-wrong` });
  const echo = spec.echo ? el('span', { class: 'hint', 'aria-live': 'polite' }, spec.hint || '') : null;
  if (echo)
    input.addEventListener('input', () => {
      const values = input.value.trim() ? list(input.value.trim()) : null;
      put(echo, values ? spec.echo(values) : spec.hint || '');
    });
  return {
    node: el(
      'div',
      { class: spec.wide ? 'field wide' : 'field' },
      spec.options
        ? el('span', { class: 'label' }, name)
        : el(
            'label',
            { for: id },
            name,
            spec.need || spec.plain ? null : el('span', { class: 'soft' }, ` ${t('ask.optional')}`),
          ),
      input,
      echo,
      wrong,
    ),
    input,
    spec,
    read() {
      wrong.textContent = '';
      if (spec.options)
        return {
          value: [...input.children].find((b) => b.getAttribute('aria-pressed') === 'true')?.dataset.value ?? null,
        };
      const text = input.value.trim();
      input.removeAttribute('aria-invalid');
      if (text === '') return spec.need ? bad(t('wrong.needed')) : { value: null };
      const value = spec.list
        ? list(text)
        : spec.quantity
          ? read(text, spec.quantity, was)
          : spec.whole
            ? readWhole(text)
            : spec.code
              ? asCode(text)
              : text;
      return value === null ? bad(t(spec.quantity || spec.whole ? 'wrong.figure' : 'wrong.code')) : { value };
    },
  };
  function list(text) {
    const values = text.split(/[\s;]+/).map((one) => read(one, spec.quantity));
    return values.includes(null) ? null : values;
  }
  function bad(text) {
    wrong.textContent = text;
    input.setAttribute('aria-invalid', 'true');
    return { bad: true };
  }
}

/**
 * Ask for several things: fields [{name, label, quantity|code|whole|options|list, value, need}]. `fill`: { label, values } puts
 * stored values into the boxes by a tap, to be looked at before they are confirmed. Resolves to {name: value|null}, or null
 * when left.
 */
export function form({ title, about, fields, go, check = null, fill = null }) {
  return new Promise((resolve) => {
    const made = fields.map(formField);
    const said = el('div', { role: 'alert' });
    const question = { take() {}, cancel: () => finish(null) };
    function finish(value) {
      end();
      resolve(value);
    }
    function filled() {
      for (const { input, spec } of made)
        if ((fill.values[spec.name] ?? null) !== null) input.value = typed(fill.values[spec.name], spec.quantity);
      panel().querySelector('button[type=submit]').focus();
    }
    function submit(event) {
      event.preventDefault();
      const out = {};
      let first = null;
      for (const field of made) {
        const got = field.read();
        if (got.bad) first ||= field.input;
        else out[field.spec.name] = got.value;
      }
      const wrong = !first && check ? check(out) : null;
      if (wrong) put(said, el('p', { class: 'trouble' }, wrong));
      if (first) first.focus();
      else if (!wrong) finish(out);
    }
    begin(
      question,
      title,
      el(
        'form',
        { submit, novalidate: true },
        about || null,
        fill ? el('button', { type: 'button', id: 'ask-fill', click: filled }, fill.label) : null,
        el(
          'div',
          { class: 'fields' },
          made.map((f) => f.node),
        ),
        said,
        el(
          'div',
          { class: 'ask-go' },
          el('button', { type: 'submit', class: 'main go' }, go || t('confirm')),
          el('button', { type: 'button', click: question.cancel }, t('cancel')),
        ),
      ),
    );
    document.body.classList.add('filling');
    box().disabled = true;
    label(title);
    const start =
      made.find((f) => f.input.matches('input') && f.spec.need && !f.input.value) ||
      made.find((f) => f.input.matches('input') && !f.input.value && f.spec.first) ||
      null;
    (start?.input || panel().querySelector('button[type=submit]')).focus();
  });
}
