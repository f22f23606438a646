// The form of a specification: what it is for, limits in the units shown, tests that are needed, and the rest.

import { el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { PROCESSES } from './forms.js';
import { property, PROPERTIES } from './measured.js';
import { problemText } from './said.js';
import { t, term } from './words.js';

const WHATS = ['rod', 'wire', 'strand', 'core', 'rope'];
const GRADES = [1370, 1570, 1770, 1960, 2160];
let serial = 0;

function labelled(words, box) {
  box.id = `spec-${(serial += 1)}`;
  return el('div', { class: 'field' }, el('label', { for: box.id }, words), box);
}

const options = (list, chosen, empty = false) =>
  el(
    'select',
    null,
    empty ? el('option', { value: '' }, t('choose')) : null,
    list.map(([value, words]) => el('option', { value, selected: String(value) === String(chosen) }, words)),
  );
const box = (value = '', attrs = {}) => el('input', { value: value ?? '', ...attrs });

/** A figure in the shown unit of a property, and back. */
const shown = (name, of) => (of === null || of === undefined ? '' : fmt.plainText(of / fmt.scaleOf(name)[1]));
const stored = (name, text) => Math.round(fmt.readNumber(text) * fmt.scaleOf(name)[1]);

/** Rows that can be added to and taken from: `make(value)` gives {parts, read}. */
function rows(title, more, values, make) {
  const list = [];
  const holder = el('div');
  const add = (value, focus) => {
    const row = make(value);
    const drop = el('button', { type: 'button' }, t('specs.drop'));
    const node = el('div', { class: 'row-of' }, row.parts, drop);
    drop.addEventListener('click', () => {
      list.splice(list.indexOf(row), 1);
      node.remove();
    });
    list.push(row);
    holder.append(node);
    if (focus) node.querySelector('input, select').focus();
  };
  values.forEach((v) => add(v, false));
  return {
    node: el(
      'fieldset',
      null,
      el('legend', null, title),
      holder,
      el('button', { type: 'button', click: () => add(null, true) }, more),
    ),
    read: () => list.map((row) => row.read()).filter(Boolean),
  };
}

const propertyBox = (chosen) => {
  const known = chosen && !PROPERTIES.includes(chosen) ? [chosen, ...PROPERTIES] : PROPERTIES;
  return options(known.map((p) => [p, property(p)]), chosen);
};

function limitRow(value) {
  const name = propertyBox(value?.[0]);
  const [min, max] = [box(shown(name.value, value?.[1].min)), box(shown(name.value, value?.[1].max))];
  const parts = [labelled(t('field.property'), name), labelled(t('field.min'), min), labelled(t('field.max'), max)];
  const units = () =>
    [['min', 1], ['max', 2]].forEach(([which, i]) => {
      const [unit] = fmt.scaleOf(name.value);
      parts[i].firstChild.textContent = unit ? t('field.with-unit', { name: t(`field.${which}`), unit }) : t(`field.${which}`);
    });
  name.addEventListener('change', units);
  units();
  const figure = (it) => (it.value.trim() === '' ? undefined : stored(name.value, it.value));
  return {
    parts,
    read: () => {
      const out = { min: figure(min), max: figure(max) };
      return out.min === undefined && out.max === undefined ? null : [name.value, out];
    },
  };
}

function testRow(value) {
  const name = propertyBox(value?.property);
  const per = options(['lot', 'run'].map((p) => [p, t(`per.${p}`)]), value?.per || 'run');
  const n = box(value?.n ?? 1, { inputmode: 'numeric' });
  return {
    parts: [labelled(t('field.property'), name), labelled(t('field.per'), per), labelled(t('field.n'), n)],
    read: () => ({ property: name.value, per: per.value, n: Number(n.value) }),
  };
}

function toleranceRow(value) {
  const process = options(PROCESSES.map((p) => [p, term('process', p)]), value?.[0]);
  const share = box(value ? fmt.plainText(value[1] / 10000) : '', { inputmode: 'decimal' });
  return {
    parts: [labelled(t('field.process'), process), labelled(t('field.with-unit', { name: t('specs.tolerance'), unit: '%' }), share)],
    read: () => (share.value.trim() ? [process.value, Math.round(fmt.readNumber(share.value) * 10000)] : null),
  };
}

const whole = (it) => (it.value.trim() === '' ? undefined : fmt.readNumber(it.value));
const said = (it) => it.value.trim() || undefined;
const diameter = (it) => (it.value.trim() === '' ? undefined : fmt.readQuantity(it.value, 'diameter'));

/** `from`: the version to begin from, or null; `done(body)` once it is recorded. */
export function specForm(from, done) {
  const inMm = (um) => (um ? fmt.typed(um, 'diameter') : '');
  const withUnit = (name) => t('field.with-unit', { name: t(`field.${name}`), unit: fmt.unitOf('diameter') });
  const code = box(from?.spec, { class: 'code-in', maxlength: 40, readonly: Boolean(from), required: true });
  const what = options(WHATS.map((w) => [w, t(`what.${w}`)]), from?.what || 'wire');
  const grade = box(from?.grade);
  const grades = from?.tensile_grade_kpa && !GRADES.includes(from.tensile_grade_kpa / 1000) ? [from.tensile_grade_kpa / 1000, ...GRADES] : GRADES;
  const tensile = options(grades.map((g) => [g, String(g)]), from?.tensile_grade_kpa / 1000, true);
  const construction = box(from?.construction);
  const [low, high] = [box(inMm(from?.diameter_from_um)), box(inMm(from?.diameter_below_um))];
  const limits = rows(t('field.limits'), t('specs.limit.add'), Object.entries(from?.limits || {}), limitRow);
  const tests = rows(t('specs.tests'), t('specs.test.add'), from?.tests || [], testRow);
  const tolerances = rows(t('specs.tolerance'), t('specs.tolerance.add'), Object.entries(from?.tolerance_ppm || {}), toleranceRow);
  const [retests, multiple] = [box(from?.retests), box(from?.joint_multiple)];
  const of = box(inMm(from?.joint_of_um));
  const heats = options(['one', 'any'].map((h) => [h, t(`specs.heats.${h}`)]), from?.heats, true);
  const source = box(from?.source, { maxlength: 200 });
  const version = (from?.version || 0) + 1;
  const place = el('div', { role: 'alert' });
  const send = el('button', { class: 'main', type: 'submit' }, t('specs.record', { n: version }));
  let key = api.newKey();

  function body() {
    return {
      spec: code.value.trim().toUpperCase(),
      version,
      what: what.value,
      grade: said(grade),
      tensile_grade_kpa: tensile.value ? Number(tensile.value) * 1000 : undefined,
      construction: said(construction),
      diameter_from_um: diameter(low),
      diameter_below_um: diameter(high),
      limits: Object.fromEntries(limits.read()),
      tests: tests.read(),
      retests: whole(retests),
      joint_multiple: whole(multiple),
      joint_of_um: diameter(of),
      heats: heats.value || undefined,
      tolerance_ppm: tolerances.read().length > 0 ? Object.fromEntries(tolerances.read()) : undefined,
      source: said(source),
    };
  }

  return el(
    'form',
    {
      novalidate: true,
      submit: async (event) => {
        event.preventDefault();
        if (send.disabled) return;
        send.disabled = true;
        put(place);
        try {
          const entry = { key, kind: 'spec', body: body() };
          await api.append(entry);
          key = api.newKey();
          done(entry.body);
        } catch (problem) {
          put(place, el('p', { class: 'trouble' }, el('strong', null, t('refused')), ' ', problem.status === 0 ? t('no-answer.log') : problemText(problem)));
        } finally {
          send.disabled = false;
        }
      },
    },
    el(
      'div',
      { class: 'fields ask' },
      labelled(t('field.spec'), code),
      labelled(t('specs.scope'), what),
      labelled(t('field.tensile_grade_kpa'), tensile),
      labelled(t('chart.steel'), grade),
      labelled(t('field.construction'), construction),
      labelled(withUnit('diameter_from_um'), low),
      labelled(withUnit('diameter_below_um'), high),
    ),
    limits.node,
    tests.node,
    el(
      'div',
      { class: 'fields ask' },
      labelled(t('field.retests'), retests),
      labelled(t('field.joint_multiple'), multiple),
      labelled(withUnit('joint_of_um'), of),
      labelled(t('field.heats'), heats),
      labelled(t('field.source'), source),
    ),
    tolerances.node,
    el('p', { class: 'caution' }, t('specs.caution')),
    place,
    el('div', { class: 'actions' }, send),
  );
}
