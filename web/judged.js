// On a test's page: by how much it is within its limits or beyond them, the way to a retest of one that failed, and what it
// would come to by another version of a specification.

import { el, put, table } from './dom.js';
import * as api from './api.js';
import { trouble } from './frame.js';
import { marginRows } from './measured.js';
import { sheet } from './parts.js';
import { t } from './words.js';

const margins = (answer) =>
  answer.margins.length === 0
    ? null
    : table([t('field.property'), t('measured.value'), t('measured.limit'), t('measured.margin')], marginRows(answer.margins));

/** As it was judged when it was recorded; `specs` has one at least. */
async function recorded(test, specs, choice, place) {
  const [any] = specs;
  let answer = await api.judged(test, { spec: any.spec, version: any.version });
  const { spec, version, verdict } = answer.recorded;
  if (spec) {
    choice.value = `${spec} ${version}`;
    answer = await api.judged(test, { spec, version });
  }
  put(
    place,
    spec ? [el('p', null, t('specs.judge.recorded', { spec, version: t('measured.version', { n: version }) })), margins(answer)] : null,
    verdict === 'fail'
      ? [
          el('p', null, t('specs.judge.retest')),
          el(
            'div',
            { class: 'actions' },
            el('a', { class: 'button', href: api.url('log.html', { kind: 'test', lot: answer.lot, retest_of: test }) }, t('specs.judge.retest.go')),
          ),
        ]
      : null,
  );
}

export function judgedSheet(test) {
  const choice = el('select', { id: 'judge-by' });
  const place = el('div', { 'aria-live': 'polite' });
  const go = async () => {
    const [spec, version] = choice.value.split(' ');
    try {
      const answer = await api.judged(test, { spec, version });
      const words = { spec, version: t('measured.version', { n: answer.version }) };
      put(
        place,
        el('p', { class: 'headline' }, t(`specs.judge.${answer.verdict || 'none'}`, words)),
        answer.fits ? null : el('p', { class: 'warn' }, t('specs.judge.not-for')),
        margins(answer),
      );
    } catch (problem) {
      trouble(place, problem);
    }
  };
  const node = sheet(
    'judge-title',
    t('specs.judge'),
    el('p', { class: 'quiet' }, t('specs.judge.what')),
    el(
      'div',
      { class: 'filters' },
      el('div', { class: 'field wide' }, el('label', { for: 'judge-by' }, t('field.spec')), choice),
      el('button', { type: 'button', click: go }, t('specs.judge.go')),
    ),
    place,
  );
  node.classList.add('no-print');
  api
    .specs()
    .then(({ specs }) => {
      if (specs.length === 0) return node.remove();
      put(
        choice,
        specs.map((s) => el('option', { value: `${s.spec} ${s.version}` }, `${s.spec} ${t('measured.version', { n: s.version })}`)),
      );
      return recorded(test, specs, choice, place);
    })
    .catch(() => node.remove());
  return node;
}
