// Goods-in: the heat once, then each coil by its label and its mass.

import { el, put } from '../dom.js';
import * as floor from './floor.js';
import * as lots from './lots.js';
import * as measure from '../units.js';
import * as where from './where.js';
import { figure, form } from './ask.js';
import { labelLink } from './labels.js';
import { show, t, term } from './say.js';

let shop = null;
const now = () => where.remembered('heat');

/**
 * A heat is set: of the ledger, or recorded here with what its certificate says. Then the coils' diameter and order.
 */
async function setHeat(code) {
  const known = await lots.heat(code);
  const last = where.remembered('goods') || {};
  const again = now()?.heat === code ? now() : null;
  const fields = [];
  if (!known) {
    fields.push(
      { name: 'supplier', label: t('field.supplier'), need: true, value: last.supplier || '' },
      { name: 'grade', label: t('field.grade'), need: true, value: last.grade || '' },
      { name: 'mill_certificate', label: t('field.mill_certificate') },
    );
  }
  fields.push(
    {
      name: 'diameter_um',
      label: t('field.diameter_um'),
      quantity: 'diameter',
      need: true,
      value: again?.diameter_um || last.diameter_um || null,
    },
    { name: 'order', label: t('goods.order'), value: last.order || '' },
    { name: 'location', label: t('field.location'), value: last.location || '' },
  );
  const got = await form({
    title: known
      ? t('goods.heat-known', { heat: code, grade: known.grade || '' })
      : t('goods.heat-new', { heat: code }),
    about: known === undefined ? t('goods.unasked') : null,
    fields,
    go: t('goods.heat-go'),
  });
  if (!got) return;
  if (!known) {
    const body = Object.fromEntries(
      Object.entries({
        heat: code,
        supplier: got.supplier,
        grade: got.grade,
        mill_certificate: got.mill_certificate,
      }).filter(([, v]) => v),
    );
    if (!(await shop.record({ kind: 'heat', body, thread: `heat:${code}` }, t('did.heat', { heat: code })))) return;
  }
  where.remember('goods', {
    supplier: got.supplier || last.supplier,
    grade: got.grade || known?.grade || last.grade,
    diameter_um: got.diameter_um,
    order: got.order,
    location: got.location,
  });
  where.remember('heat', {
    heat: code,
    grade: got.grade || known?.grade || null,
    diameter_um: got.diameter_um,
    order: got.order,
    location: got.location,
    coils: again?.coils || [],
  });
  shop.draw();
}

async function askHeat() {
  const got = await form({
    title: t('goods.which'),
    fields: [{ name: 'heat', label: t('field.heat'), code: true, need: true }],
    go: t('next'),
  });
  if (got) await setHeat(got.heat);
}

/** Measured diameters of a coil, two or more apart by spaces: null when left empty; undefined when gone back. */
async function askMeasured(code) {
  const got = await form({
    title: t('goods.measured', { lot: code }),
    about: t('goods.measured.what'),
    go: t('confirm'),
    fields: [{ name: 'measured_um', label: t('field.measured_um'), quantity: 'diameter', list: true, first: true }],
  });
  return got ? got.measured_um : undefined;
}

async function receive(code) {
  const heat = now();
  const got = await figure({
    title: t('goods.mass', { lot: code }),
    quantities: ['mass', 'length'],
    about: el(
      'p',
      null,
      t('goods.of', { heat: heat.heat, grade: heat.grade || '', diameter: show(heat.diameter_um, 'diameter') }),
    ),
    echo: (v, q) =>
      q === 'mass'
        ? t('size.mass', {
            mass: show(v, 'mass', true),
            length: show(measure.lengthOf(v, heat.diameter_um), 'length'),
            diameter: show(heat.diameter_um, 'diameter'),
          })
        : show(v, 'length', true),
    check: (v) => (v > 0 ? null : t('size.none')),
  });
  if (!got) return;
  let measured = null;
  if (where.remembered('measure')) {
    measured = await askMeasured(code);
    if (measured === undefined) return;
  }
  const mass = got.quantity === 'mass';
  const length = mass ? measure.lengthOf(got.value, heat.diameter_um) : got.value;
  const body = {
    lot: code,
    kind: 'rod',
    heat: heat.heat,
    diameter_um: heat.diameter_um,
    [mass ? 'mass_g' : 'length_mm']: got.value,
  };
  if (measured) body.measured_um = measured;
  if (heat.order) body.order = heat.order;
  if (heat.location) body.location = heat.location;
  const figureSaid = show(got.value, mass ? 'mass' : 'length');
  if (
    !(await shop.record(
      { kind: 'receive', body, thread: `heat:${heat.heat}`, say: { length_mm: length } },
      t('did.receive', { lot: code, figure: figureSaid }),
    ))
  )
    return;
  where.remember('heat', { ...heat, coils: [...(heat.coils || []), { lot: code, figure: figureSaid }].slice(-60) });
  shop.draw();
}

/** A scan here: first the heat, then the coils' labels. A heat that is known changes to it. */
export async function scanned(code) {
  if (!now()) return setHeat(code);
  if (code === now().heat) return setHeat(code);
  const { lot } = await lots.look(code);
  if (lot) {
    return shop.stop({
      code,
      why: t('bar.code-taken'),
      detail: t('goods.here-already', { kind: term('kind', lot.kind) }),
    });
  }
  if (floor.made().has(code)) return shop.stop({ code, why: t('bar.code-taken') });
  if (await lots.heat(code)) return setHeat(code);
  return receive(code);
}

export function draw(place) {
  const heat = now();
  const measured = Boolean(where.remembered('measure'));
  put(
    place,
    el(
      'section',
      { class: 'run' },
      heat
        ? el(
            'div',
            { class: 'run-head' },
            el('h2', null, t('goods.now', { heat: heat.heat })),
            el(
              'p',
              null,
              [heat.grade, show(heat.diameter_um, 'diameter'), heat.order, heat.location]
                .filter(Boolean)
                .join(' \u00b7 '),
            ),
          )
        : el('h2', null, t('goods.none')),
      el(
        'p',
        { class: 'next' },
        el('span', { 'aria-hidden': 'true' }, '\u25b6 '),
        t(heat ? 'goods.next' : 'goods.first'),
      ),
      el(
        'div',
        { class: 'run-steps' },
        el(
          'button',
          { type: 'button', class: heat ? null : 'main', click: () => shop.doing(askHeat) },
          t(heat ? 'goods.other' : 'goods.set'),
        ),
        el(
          'button',
          {
            type: 'button',
            'aria-pressed': String(measured),
            click: () => {
              where.remember('measure', !measured);
              shop.draw();
              shop.ready();
            },
          },
          t('goods.measure'),
        ),
      ),
      heat?.coils?.length > 0 ? el('h3', null, t('goods.coils', { n: heat.coils.length })) : null,
      heat?.coils?.length > 0
        ? el(
            'ul',
            { class: 'packages' },
            [...heat.coils]
              .reverse()
              .slice(0, 12)
              .map((c) => el('li', null, el('span', { class: 'code' }, c.lot), ' ', c.figure)),
          )
        : null,
      heat?.coils?.length > 0 ? labelLink(heat.coils.map((c) => c.lot)) : null,
    ),
  );
}

export function begin(given) {
  shop = given;
}
