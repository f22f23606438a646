// Ledger: the entries, newest first; the head; and the proof that they are what was recorded, by the server and by this
// browser.

import { byId, el, facts, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { bodyOf } from './body.js';
import { KINDS } from './forms.js';
import { frame, trouble } from './frame.js';
import * as merkle from './merkle.js';
import { findingText } from './said.js';
import { learnArea, t, term } from './words.js';

const PAGE = 50;
const filter = Object.fromEntries(
  ['kind', 'by', 'q', 'seq'].map((name) => [name, new URLSearchParams(location.search).get(name) || '']),
);

/* --- entries -------------------------------------------------------------------------------------- */

/** What an entry is about, in a line: the codes its body names first. */
function gist(entry) {
  const b = entry.body;
  const code =
    b.run ||
    b.batch ||
    b.test ||
    b.hold ||
    b.certificate ||
    b.consignment ||
    b.lot ||
    b.heat ||
    b.supply ||
    b.about ||
    b.entry ||
    (Array.isArray(b.lots)
      ? b.lots
          .slice(0, 3)
          .map((l) => l.lot || l)
          .join(' ')
      : '');
  return [
    el('span', { class: entry.standing === 'stands' ? 'code' : 'code struck' }, code),
    ' ',
    el('span', { class: 'soft' }, b.reason || b.text || b.what || ''),
  ];
}

async function prove(entry, place) {
  try {
    const head = await api.head();
    const [full, proof] = await Promise.all([api.entry(entry.seq), api.inclusion(entry.seq, head.size)]);
    if (!merkle.able()) return put(place, el('div', { class: 'warn' }, t('verify.unable')));
    const leaf = await merkle.leafHash(full.leaf);
    const root = await merkle.rootOf(leaf, entry.seq - 1, head.size, proof.proof.map(merkle.unhex));
    const good = root !== null && merkle.hex(root) === head.root;
    return put(
      place,
      el(
        'div',
        { class: good ? 'done' : 'trouble', role: 'status' },
        el('strong', null, t(good ? 'proof.good' : 'proof.bad', { seq: entry.seq, size: head.size })),
        el('p', null, t('proof.leaf'), ' ', el('span', { class: 'hash' }, merkle.hex(leaf))),
        el(
          'ol',
          { class: 'hash' },
          proof.proof.map((step) => el('li', null, step)),
        ),
        el('p', null, t('root'), ' ', el('span', { class: 'hash' }, head.root)),
      ),
    );
  } catch (problem) {
    return trouble(place, problem);
  }
}

function inside(entry) {
  const proof = el('div');
  const raw = el('pre', null, JSON.stringify(entry.body, null, 2));
  return el(
    'div',
    { class: 'inside' },
    entry.standing === 'stands'
      ? null
      : el(
          'p',
          { class: 'warn' },
          t(`standing.${entry.standing}`),
          ' ',
          (entry.corrections || []).map((c) => [
            el('a', { href: api.pageOf('entry', c.seq) }, t('entry-n', { seq: c.seq })),
            ' ',
            c.reason,
            ' ',
          ]),
        ),
    facts([
      [t('column.at-time'), fmt.stamp(entry.at)],
      [t('column.logged'), fmt.stamp(entry.logged)],
      [t('column.by'), entry.by],
      [t('column.terminal'), entry.terminal],
      [t('column.key'), el('span', { class: 'hash' }, entry.key)],
    ]),
    (entry.findings || []).map((f) => el('p', { class: 'warn' }, el('strong', null, t('finding')), ' ', findingText(f))),
    bodyOf(entry.kind, entry.body),
    el('details', null, el('summary', null, t('ledger.raw')), raw),
    el(
      'div',
      { class: 'actions' },
      el('button', { type: 'button', click: () => prove(entry, proof) }, t('ledger.prove')),
      ['correct', 'void'].map((kind) =>
        el('a', { class: 'button', href: api.url('log.html', { kind, seq: entry.seq }) }, t(`ledger.${kind}`)),
      ),
    ),
    proof,
  );
}

function entryItem(entry, open) {
  const fold = el(
    'details',
    { open },
    el(
      'summary',
      null,
      el('span', { class: 'seq' }, String(entry.seq)),
      el('span', { class: 'tag' }, term('entry', entry.kind)),
      el(
        'span',
        null,
        gist(entry),
        (entry.findings || []).length > 0
          ? el('span', { class: 'tag' }, t('findings', { n: entry.findings.length }))
          : null,
      ),
      el('span', { class: 'quiet when' }, t('by-at', { by: entry.by, at: fmt.stamp(entry.at) })),
    ),
  );
  const fill = () => fold.open && !fold.querySelector('.inside') && fold.append(inside(entry));
  fold.addEventListener('toggle', fill);
  if (open) fill();
  return el('li', null, fold);
}

let next = null;

async function load(more) {
  try {
    if (filter.seq) {
      const one = await api.entry(filter.seq);
      put(byId('entries'), entryItem(one, true));
      byId('more').hidden = true;
      return;
    }
    const answer = await api.entries({
      before: more ? next : undefined,
      limit: PAGE,
      kind: filter.kind,
      by: filter.by,
      q: filter.q,
    });
    const items = answer.entries.map((e) => entryItem(e, false));
    if (more) byId('entries').append(...items);
    else put(byId('entries'), items.length > 0 ? items : el('li', null, t('ledger.none')));
    next = answer.next;
    byId('more').hidden = !next;
    if (more && items.length > 0) items[0].querySelector('summary').focus();
  } catch (problem) {
    trouble(byId('entries'), problem);
  }
}

function filters() {
  const change = (name) => (event) => {
    filter[name] = event.target.value.trim();
    if (name !== 'seq') filter.seq = '';
    history.replaceState(null, '', api.url('ledger.html', filter));
    load(false);
  };
  const box = (name, attrs = {}) =>
    el(
      'div',
      { class: 'field' },
      el('label', { for: `f-${name}` }, t(`filter.${name}`)),
      el('input', { id: `f-${name}`, value: filter[name], change: change(name), ...attrs }),
    );
  put(
    byId('filters'),
    el(
      'div',
      { class: 'field' },
      el('label', { for: 'f-kind' }, t('filter.kind')),
      el(
        'select',
        { id: 'f-kind', change: change('kind') },
        el('option', { value: '' }, t('filter.any')),
        Object.keys(KINDS).map((kind) =>
          el('option', { value: kind, selected: filter.kind === kind }, term('entry', kind)),
        ),
      ),
    ),
    box('by'),
    box('q', { class: 'code-in' }),
    box('seq', { inputmode: 'numeric' }),
  );
  byId('filters').addEventListener('submit', (event) => event.preventDefault());
}

/* --- head and verification ------------------------------------------------------------------------ */

async function showHead() {
  try {
    const head = await api.head();
    put(
      byId('head'),
      el('p', null, t('ledger.size', { n: head.size })),
      el('p', { class: 'hash' }, head.root),
      el('p', { class: 'quiet' }, t('ledger.head.what')),
    );
  } catch (problem) {
    trouble(byId('head'), problem);
  }
}

/** Fetch every leaf as hashed and build the tree; `step(done, of)` is told how far it is. */
async function recompute(head, step) {
  const tree = new merkle.Tree();
  while (tree.size < head.size) {
    const text = await api.leaves(tree.size, Math.min(1000, head.size - tree.size));
    const lines = text.split('\n').filter((line) => line !== '');
    if (lines.length === 0) break;
    const hashes = await Promise.all(lines.map(merkle.leafHash));
    for (const hash of hashes) await tree.add(hash);
    step(tree.size, head.size);
  }
  return tree;
}

async function verify() {
  const place = byId('verified');
  const bar = el('progress', { max: 1, value: 0, 'aria-label': t('ledger.verify') });
  byId('verify').disabled = true;
  put(place, bar);
  try {
    const theirs = await api.verify();
    const said = [
      el(
        'div',
        { class: theirs.ok ? 'done' : 'trouble' },
        theirs.ok
          ? t('verify.server.good', { n: theirs.size, ms: theirs.ms })
          : t('verify.server.bad', { seq: theirs.wrong, text: theirs.text }),
      ),
    ];
    if (!merkle.able()) said.push(el('div', { class: 'warn' }, t('verify.unable')));
    else {
      const began = performance.now();
      const head = await api.head();
      const tree = await recompute(head, (done, of) => {
        bar.value = done / of;
      });
      const mine = merkle.hex(await tree.root());
      const good = tree.size === head.size && mine === head.root;
      said.push(
        el(
          'div',
          { class: good ? 'done' : 'trouble' },
          t(good ? 'verify.here.good' : 'verify.here.bad', { n: tree.size, ms: Math.round(performance.now() - began) }),
          el('p', { class: 'hash' }, mine),
        ),
      );
    }
    put(place, said);
  } catch (problem) {
    trouble(place, problem);
  } finally {
    byId('verify').disabled = false;
  }
}

async function main() {
  await learnArea('measured');
  frame('ledger');
  filters();
  showHead();
  load(false);
  byId('more').addEventListener('click', () => load(true));
  byId('verify').addEventListener('click', verify);
}

main();
