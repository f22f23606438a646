// Figures by property, in a form: the limits of a specification, and the single readings of a test. Each row names its
// property, and is typed in that property's unit.

import { el, put } from './dom.js';
import * as fmt from './format.js';
import { PROPERTIES } from './measured.js';
import { known, t, term } from './words.js';

let serial = 0;

/** A property, and the figures that go with it in its own unit: boxes for the names given, or one for a list of them. */
function measuredRow(names, value, focus) {
  const chosen = el('select', { 'data-step': 'property' });
  const of = value?.[0] && !PROPERTIES.includes(value[0]) ? [value[0], ...PROPERTIES] : PROPERTIES;
  put(chosen, of.map((p) => el('option', { value: p, selected: p === value?.[0] }, term('field', p))));
  const boxes = names.map((name) => el('input', { inputmode: name ? 'decimal' : null, 'data-step': name || 'values' }));
  const texts = boxes.map(() => el('span'));
  const label = (text, box) => {
    box.id = `property-${(serial += 1)}`;
    return el(
      'div',
      { class: 'field' },
      el('label', { for: box.id }, text),
      box,
      el('span', { class: 'wrong', id: `${box.id}-wrong` }),
    );
  };
  const node = el(
    'div',
    { class: 'fields' },
    label(t('field.property'), chosen),
    boxes.map((box, i) => label(texts[i], box)),
  );
  const scale = () => fmt.scaleOf(chosen.value);
  const write = (stored) => fmt.plainText(stored / scale()[1]);
  const read = (text) => Math.round(fmt.readNumber(text) * scale()[1]);
  function units() {
    const unit = scale()[0];
    names.forEach((name, i) => {
      const words = t(name ? `field.${name}` : 'field.readings');
      texts[i].textContent = unit ? t('field.with-unit', { name: words, unit }) : words;
    });
  }
  chosen.addEventListener('change', units);
  units();
  const filled = names.map((name) => {
    const it = name ? value?.[1]?.[name] : value?.[1];
    if (it === undefined || it === null) return null;
    return { it, property: value[0], text: Array.isArray(it) ? it.map(write).join(' ') : write(it) };
  });
  boxes.forEach((box, i) => {
    box.value = filled[i]?.text || '';
  });
  if (focus) chosen.focus();
  return {
    node,
    /** [property, figures]; undefined when nothing was typed. */
    read(wrong) {
      const got = boxes.map((box, i) => {
        const text = box.value.trim();
        if (text === '') return undefined;
        if (filled[i]?.text === text && filled[i].property === chosen.value) return filled[i].it;
        const values = names[i] ? read(text) : text.split(/[\s;]+/).map(read);
        if ([values].flat().some(Number.isNaN)) wrong.push({ box, text: t('wrong.figure') });
        return values;
      });
      if (got.every((x) => x === undefined)) return undefined;
      if (!names[0]) return [chosen.value, got[0]];
      const figures = names.map((name, i) => [name, got[i]]).filter(([, x]) => x !== undefined);
      return [chosen.value, Object.fromEntries(figures)];
    },
  };
}

/** Figures by property, a row each: limits ({min, max}), or single readings (a list). */
export function measured(spec, name) {
  const list = [];
  const holder = el('div');
  function add(value, focus) {
    const row = measuredRow(spec.of || [null], value, false);
    const drop = el('button', { type: 'button' }, t('row.take-away'));
    const node = el('div', { class: 'rows-box', 'data-step': '#' }, row.node, drop);
    drop.addEventListener('click', () => {
      list.splice(list.indexOf(row), 1);
      node.remove();
      more.focus();
    });
    list.push(row);
    holder.append(node);
    if (focus) node.querySelector('select').focus();
  }
  const more = el('button', { type: 'button', click: () => add(null, true) }, t(`row.add.${spec.name}`));
  const node = el(
    'fieldset',
    { class: 'wide', 'data-step': spec.name, tabindex: '-1' },
    el('legend', null, name),
    known(`hint.${spec.name}`) ? el('p', { class: 'hint' }, t(`hint.${spec.name}`)) : null,
    holder,
    more,
    el('span', { class: 'wrong' }),
  );
  return {
    node,
    fill(value) {
      list.splice(0);
      put(holder);
      Object.entries(value || {}).forEach((one) => add(one, false));
    },
    read(wrong) {
      const rows1 = list.map((row) => row.read(wrong)).filter(Boolean);
      return rows1.length > 0 || spec.need ? Object.fromEntries(rows1) : undefined;
    },
  };
}
