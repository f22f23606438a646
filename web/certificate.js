// Certificate: the document as it was issued, drawn out of its entry, which this browser proves; how it stands now, and
// what one may do about it.

import { mark, openMarks, standing } from './certified.js';
import { documentOf } from './document.js';
import { byId, el, facts, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { frame, trouble } from './frame.js';
import * as merkle from './merkle.js';
import { link, sheet } from './parts.js';
import { problemText } from './said.js';
import { t } from './words.js';

const same = (a, b) => merkle.hex(a) === b;

/**
 * Whether the entry that brings the document is what the paper says it is: its leaf gives the hash, the hash and the
 * proof give the head of its time, and today's head grew from that.
 */
async function prove(certificate, full) {
  const { proof, ledger } = certificate;
  const leaf = await merkle.leafHash(full.leaf);
  const root = await merkle.rootOf(leaf, proof.seq - 1, proof.size, proof.proof.map(merkle.unhex));
  const grown = await api.consistency(proof.size, ledger.size);
  return (
    same(leaf, proof.leaf) &&
    root !== null &&
    same(root, proof.root) &&
    (await merkle.grew(
      proof.size,
      merkle.unhex(proof.root),
      ledger.size,
      merkle.unhex(ledger.root),
      grown.proof.map(merkle.unhex),
    ))
  );
}

/** The document as it stands in the leaf that was proved. */
function inLeaf(full) {
  const { body } = JSON.parse(full.leaf);
  return (body.body || body).document;
}

async function proofSheet(certificate, full) {
  const { proof, ledger } = certificate;
  const hashes = [
    facts([
      [t('column.entry'), link('entry', proof.seq, `#${proof.seq}`)],
      [t('proof.leaf'), el('span', { class: 'hash' }, proof.leaf)],
      [t('certificate.head', { size: proof.size }), el('span', { class: 'hash' }, proof.root)],
    ]),
    el(
      'details',
      null,
      el('summary', null, t('certificate.hashes', { n: proof.proof.length })),
      el(
        'ol',
        { class: 'hash' },
        proof.proof.map((step) => el('li', null, step)),
      ),
    ),
  ];
  let said = el('p', { class: 'warn' }, t('verify.unable'));
  if (merkle.able()) {
    const good = await prove(certificate, full);
    said = el(
      'p',
      { class: good ? 'done' : 'trouble', role: 'status', 'data-proof': good ? 'good' : 'bad' },
      t(good ? 'certificate.proved' : 'certificate.not-proved', { seq: proof.seq, size: ledger.size }),
    );
  }
  return sheet('proof-title', t('certificate.proof'), said, hashes);
}

/** A dialog that asks why, and records that it stands all the same. */
function clearDialog(certificate) {
  const key = api.newKey();
  const reason = el('textarea', { id: 'clear-reason', maxlength: 2000, required: true });
  const said = el('div', { role: 'alert' });
  const send = el('button', { type: 'submit', class: 'main' }, t('clear.go'));
  async function go(event) {
    event.preventDefault();
    if (reason.value.trim() === '') return reason.focus();
    send.disabled = true;
    try {
      await api.append({ key, kind: 'clear', body: { certificate: certificate.certificate, reason: reason.value.trim() } });
      return location.reload();
    } catch (problem) {
      put(said, el('div', { class: 'trouble' }, el('strong', null, t('refused')), ' ', problemText(problem)));
      send.disabled = false;
      return undefined;
    }
  }
  const dialog = el(
    'dialog',
    { 'aria-labelledby': 'clear-title', close: () => dialog.remove() },
    el(
      'form',
      { submit: go, novalidate: true },
      el('h2', { id: 'clear-title' }, t('clear.title', { certificate: certificate.certificate })),
      el('p', { class: 'caution' }, t('caution.clear')),
      el('ul', { class: 'marks' }, openMarks(certificate).map(mark)),
      el('div', { class: 'field' }, el('label', { for: 'clear-reason' }, t('clear.reason')), reason),
      said,
      el('div', { class: 'actions' }, send, el('button', { type: 'button', click: () => dialog.close() }, t('cancel'))),
    ),
  );
  document.body.append(dialog);
  dialog.showModal();
  reason.focus();
}

function actions(certificate) {
  const code = certificate.certificate;
  const open = certificate.state === 'stands' || certificate.state === 'marked';
  const reissue = !certificate.replaced_by && certificate.state !== 'stands';
  const pdf = `/api/certificates/${encodeURIComponent(code)}.pdf`;
  return el(
    'div',
    { class: 'actions' },
    certificate.document ? el('a', { class: 'button main', id: 'pdf', href: pdf }, t('certificate.pdf')) : null,
    certificate.state === 'marked'
      ? el('button', { type: 'button', id: 'clear', click: () => clearDialog(certificate) }, t('clear.open'))
      : null,
    reissue
      ? el(
          'a',
          { class: 'button', href: api.url('issue.html', { reels: certificate.reels.join(','), replaces: code }) },
          t('certificate.reissue'),
        )
      : null,
    open
      ? el('a', { class: 'button', href: api.url('log.html', { kind: 'withdraw', certificate: code }) }, t('certificate.withdraw'))
      : null,
    el('a', { class: 'button', href: api.recallOf('certificate', code, 'back') }, t('thing.ask.back')),
    el('a', { class: 'button', href: api.genealogyOf('certificate', code) }, t('genealogy.see')),
    el('button', { type: 'button', click: () => print() }, t('print')),
  );
}

function standingOf(certificate) {
  const { withdrawn, marks, cleared } = certificate;
  return el(
    'section',
    { id: 'standing', 'aria-label': t('certificate.standing') },
    withdrawn
      ? el(
          'p',
          { class: 'trouble' },
          el('strong', null, t('certificate.state.withdrawn')),
          ': ',
          withdrawn.reason,
          ' \u00b7 ',
          t('by-at', { by: withdrawn.by, at: fmt.stamp(withdrawn.at) }),
          ' ',
          link('entry', withdrawn.entry, t('entry-n', { seq: withdrawn.entry })),
        )
      : null,
    certificate.replaced_by
      ? el('p', { class: 'trouble' }, t('certificate.replaced-by'), ' ', link('certificate', certificate.replaced_by))
      : null,
    certificate.replaces
      ? el('p', null, t('certificate.replaces'), ' ', link('certificate', certificate.replaces))
      : null,
    certificate.state === 'marked'
      ? el(
          'div',
          { class: 'trouble', role: 'status' },
          el('strong', null, t('certificate.marked')),
          el('ul', { class: 'marks' }, openMarks(certificate).map(mark)),
        )
      : null,
    marks.length > 0 && (certificate.state !== 'marked' || cleared.length > 0)
      ? el(
          'details',
          null,
          el('summary', null, t('certificate.came-after', { n: marks.length })),
          el('ul', { class: 'marks' }, marks.map(mark)),
          el(
            'ul',
            { class: 'marks' },
            cleared.map((c) =>
              el(
                'li',
                null,
                el('strong', null, t('mark.cleared')),
                ' ',
                c.reason,
                ' ',
                (c.holds || []).map((hold) => [link('hold', hold), ' ']),
                el('div', { class: 'quiet' }, t('by-at', { by: c.by, at: fmt.stamp(c.at) }), ' ', link('entry', c.entry, t('entry-n', { seq: c.entry }))),
              ),
            ),
          ),
        )
      : null,
  );
}

async function main() {
  frame('certificate');
  const code = new URLSearchParams(location.search).get('c') || '';
  const place = byId('certificate');
  try {
    const certificate = await api.certificate(code);
    const full = await api.entry(certificate.proof.seq);
    const shown = inLeaf(full);
    document.title = t('title', { page: certificate.certificate });
    put(
      place,
      el(
        'div',
        { class: 'title' },
        el('h1', null, t('type.certificate'), ' ', el('span', { class: 'code' }, certificate.certificate)),
        standing(certificate.state),
      ),
      el('p', { class: 'caution no-print' }, t('caution.certify')),
      standingOf(certificate),
      actions(certificate),
      shown
        ? el('article', { class: 'paper', id: 'paper' }, documentOf(shown))
        : el('p', { class: 'warn' }, t('certificate.no-document'), ' ', link('entry', certificate.entry, t('entry-n', { seq: certificate.entry }))),
      el('div', { id: 'proof', class: 'spaced' }),
    );
    put(byId('proof'), await proofSheet(certificate, full));
  } catch (problem) {
    trouble(place, problem);
    place.prepend(el('h1', null, t('type.certificate'), ' ', el('span', { class: 'code' }, code)));
    place.append(el('p', null, el('a', { href: 'certificates.html' }, t('certificates.title'))));
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

main();
