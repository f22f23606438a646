// Guard rails: an entry is shown to the server before it is recorded. A bar is shown as STOP; a warning is shown in the
// operator's words with both figures, and goes on only with a reason, which the entry keeps. Without the server there
// is nobody to ask, and that is said.

import { newKey } from '../api.js';
import { el } from '../dom.js';
import * as queue from '../queue.js';
import { choose } from './ask.js';
import { check } from './server.js';
import { stop } from './stop.js';
import { t } from './say.js';
import { findingText, findingWords, isAccepted, problemText, problemWords } from '../said.js';

const REASONS = ['reason.measured', 'reason.foreman', 'reason.counter', 'reason.trial'];
const KEEPS = new Set(['open', 'load', 'doff', 'close', 'run']);

/** Ask for the reason to go on in spite of a finding. null: not gone on. */
function overrule(finding) {
  return choose({
    title: findingWords(finding),
    about: el(
      'div',
      { class: 'warn-big' },
      el('p', null, findingText(finding)),
      el('p', { class: 'quiet' }, t('finding.go-on')),
    ),
    options: REASONS.map((key) => ({ value: t(key), label: t(key), cls: 'reason' })),
    typed: (text) => (text.length >= 3 ? text : null),
    label: t('finding.reason'),
    first: false,
  });
}

/**
 * Check an entry {kind, body, ...}. Returns it, with what was accepted, and `unchecked` when the server could not be
 * asked; null when it is
 * barred or not gone on with.
 */
export async function accepted(entry) {
  const sent = await queue.settled(1500);
  const said =
    sent && !queue.link.away ? await check({ key: entry.key || newKey(), kind: entry.kind, body: entry.body }) : null;
  if (!said) return { ...entry, unchecked: true };
  if (said.problem) {
    await stop({
      code: entry.say?.lot?.lot || entry.body.lot || entry.body.run || null,
      why: problemWords(said.problem.slug),
      detail: [problemText(said.problem)],
    });
    return null;
  }
  const reasons = [];
  for (const finding of said.findings) {
    if (!KEEPS.has(entry.kind)) break;
    if (isAccepted(finding)) continue; /* the run has that finding already, with the reason for going on */
    const reason = await overrule(finding);
    if (reason === null) return null;
    reasons.push({ code: finding.code, reason });
  }
  return reasons.length > 0 ? { ...entry, body: { ...entry.body, accepted: reasons } } : entry;
}
