// Drill: a mock recall. What would be found, where, and how fast; kept on the record.

import { el, table } from './dom.js';
import * as fmt from './format.js';
import { frame } from './frame.js';
import * as api from './api.js';
import { link } from './parts.js';
import { field, howDrawn, seedFields, took, trial } from './trial.js';
import { learnArea, locale, t } from './words.js';

const percent = (x) => x.toLocaleString(locale, { style: 'percent', maximumFractionDigits: 1 });

/** How much was found: to a tenth of a percent downwards, so that all of it is said only where it is all. */
const share = (part, whole) =>
  whole ? percent(part === whole ? 1 : Math.floor((part / whole) * 1000) / 1000) : t('drill.nothing-made');

function fields(head) {
  const seed = seedFields(head);
  const lot = el('input', { id: 'drill-lot', class: 'code-in', maxlength: 40 });
  const named = el('div', { hidden: true }, field('drill-lot', t('drill.lot'), lot));
  const way = (value, checked) =>
    el(
      'label',
      null,
      el('input', { type: 'radio', name: 'way', value, checked }),
      el('span', null, t(`drill.way.${value}`), el('small', null, t(`drill.way.${value}.what`))),
    );
  const ways = el(
    'fieldset',
    {
      change: () => {
        const drawn = ways.querySelector(':checked').value === 'drawn';
        seed.node.hidden = !drawn;
        named.hidden = drawn;
      },
    },
    el('legend', null, t('drill.way')),
    el('div', { class: 'choices wide' }, way('drawn', true), way('named', false)),
  );
  return {
    node: [ways, seed.node, named],
    read: () =>
      ways.querySelector(':checked').value === 'drawn'
        ? { seed: seed.read() }
        : { lot: lot.value.trim().toUpperCase() },
  };
}

function report({ body }) {
  const { chosen, found } = body;
  const row = (key, mm, g) => [t(key), fmt.length(mm), fmt.mass(g), found.made_g ? percent(g / found.made_g) : ''];
  const missing = [found.made_mm - found.found_mm, found.made_g - found.found_g];
  return [
    el('h2', { id: 'report-title', tabindex: '-1' }, t('drill.report', { lot: chosen.lot })),
    el(
      'p',
      { class: 'headline' },
      t('drill.found', { share: share(found.found_g, found.made_g), n: found.lots }),
      ' ',
      el('span', { class: 'big' }, took(found.took_us)),
    ),
    table(
      [t('drill.where'), t('drill.length'), t('drill.mass'), t('drill.share')],
      [
        row('drill.left', found.left_mm - missing[0], found.left_g - missing[1]),
        row('drill.sent', found.sent_mm, found.sent_g),
        row('drill.lost', found.lost_mm, found.lost_g),
        row('drill.missing', ...missing),
        row('drill.made', found.made_mm, found.made_g),
      ],
      { caption: t('drill.table'), numbers: [1, 2, 3] },
    ),
    found.unweighed > 0 ? el('p', { class: 'warn' }, t('drill.unweighed', { n: found.unweighed })) : null,
    el(
      'p',
      null,
      t('drill.sure', { certain: found.certain, possible: found.possible }),
      ' ',
      el('a', { href: api.recallOf('lot', chosen.lot) }, t('drill.ask-again')),
    ),
    el('h3', null, t('drill.customers', { n: found.consignees.length })),
    el('p', null, found.consignees.length === 0 ? t('contain.out.none') : found.consignees.join(', ')),
    found.unplaced_lots > 0
      ? [
          el('h3', null, t('drill.unplaced', { n: found.unplaced_lots })),
          el(
            'p',
            { class: 'codes' },
            found.unplaced.map((code) => link('lot', code)),
            found.unplaced_lots > found.unplaced.length
              ? t('and-more', { n: found.unplaced_lots - found.unplaced.length })
              : null,
          ),
        ]
      : null,
    howDrawn(body, [{ draw: chosen.draw, entry: chosen.entry, what: link('lot', chosen.lot) }]),
  ];
}

const line = ({ chosen, found }) =>
  t('drill.line', { lot: chosen.lot, share: share(found.found_g, found.made_g), n: found.lots, took: took(found.took_us) });

await learnArea('audit');
frame('drill');
trial({ kind: 'drill', fields, report, line });
