// Sample: certificates picked by a seed, each walked back, and what was checked of each.

import { el } from './dom.js';
import { frame } from './frame.js';
import * as api from './api.js';
import { link } from './parts.js';
import { field, howDrawn, seedFields, took, trial } from './trial.js';
import { learnArea, t } from './words.js';

/** What is checked, and what an answer that is not good points at. */
const CHECKS = [
  ['chain', 'lot'],
  ['passed', 'test'],
  ['free', 'hold'],
  ['standing', null],
  ['proof', null],
];

function fields(head) {
  const seed = seedFields(head);
  const n = el('input', { id: 'sample-n', inputmode: 'numeric', value: 3 });
  return {
    node: [field('sample-n', t('sample.n'), n, t('sample.n.hint')), seed.node],
    read: () => ({ n: Number(n.value.trim()), seed: seed.read() }),
  };
}

const check = (name, to, { good, see }) =>
  el(
    'li',
    { class: good ? 'check-good' : 'check-bad' },
    t(`sample.${name}.${good ? 'good' : 'bad'}`),
    ' ',
    see && to ? link(to, see) : null,
  );

const walked = (c) =>
  el(
    'li',
    { class: 'walked' },
    el('h3', null, link('certificate', c.certificate)),
    el('p', { class: 'quiet' }, t('sample.walked', { reels: c.reels, heats: c.heats, tests: c.tests })),
    el(
      'ul',
      { class: 'checks' },
      CHECKS.map(([name, to]) => check(name, to, c[name])),
    ),
    el('p', null, el('a', { href: api.recallOf('certificate', c.certificate, 'back') }, t('sample.back'))),
  );

const good = (c) => CHECKS.every(([name]) => c[name].good);

function report({ body }) {
  const { certificates, took_us: us } = body.found;
  return [
    el('h2', { id: 'report-title', tabindex: '-1' }, t('sample.report', { n: certificates.length })),
    el(
      'p',
      { class: 'headline' },
      t('sample.found', { good: certificates.filter(good).length, n: certificates.length }),
      ' ',
      el('span', { class: 'soft' }, took(us)),
    ),
    el('ul', { class: 'walks' }, certificates.map(walked)),
    howDrawn(
      body,
      certificates.map((c) => ({ draw: c.draw, entry: c.entry, what: link('certificate', c.certificate) })),
    ),
  ];
}

const line = ({ found }) =>
  t('sample.line', {
    n: found.certificates.length,
    good: found.certificates.filter(good).length,
    codes: found.certificates.map((c) => c.certificate).join(', '),
  });

await learnArea('audit');
frame('sample');
trial({ kind: 'sample', fields, report, line });
