// On a test's page: what it would come to by another version of a specification.

import { el, put, table } from './dom.js';
import * as api from './api.js';
import { trouble } from './frame.js';
import { marginRows } from './measured.js';
import { sheet } from './parts.js';
import { t } from './words.js';

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
        answer.margins.length === 0
          ? null
          : table([t('field.property'), t('measured.value'), t('measured.limit'), t('measured.margin')], marginRows(answer.margins)),
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
      return put(
        choice,
        specs.map((s) => el('option', { value: `${s.spec} ${s.version}` }, `${s.spec} ${t('measured.version', { n: s.version })}`)),
      );
    })
    .catch(() => node.remove());
  return node;
}
