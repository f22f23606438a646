// Thing: a heat, batch, run, weld, test, hold, certificate, consignment, supply, machine or instrument: its entry as it
// stands, what it is linked with, and the way to a recall from it.

import { byId, el, facts, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { bodyOf } from './body.js';
import { frame, trouble } from './frame.js';
import { judgedSheet } from './judged.js';
import { fewWords, link, notes, sheet } from './parts.js';
import { lookBack } from './past.js';
import { TYPES } from './question.js';
import { learnArea, t, term } from './words.js';

const MOST = 40;

/** Links by what they are to the thing, long lists folded. */
function linked(links) {
  const by = new Map();
  for (const l of links) by.set(l.rel, [...(by.get(l.rel) || []), l]);
  const item = (l) =>
    el(
      'li',
      null,
      link(l.type, l.code),
      ' ',
      l.type === l.rel ? null : [el('span', { class: 'tag' }, term('type', l.type)), ' '],
      el('span', { class: 'soft' }, fewWords(l)),
    );
  const list = [...by].map(([rel, all]) => [
    el('h3', null, term('rel', rel), el('span', { class: 'count none' }, fmt.count(all.length))),
    el('ul', { class: 'links' }, all.slice(0, MOST).map(item)),
    all.length > MOST
      ? el(
          'details',
          null,
          el('summary', null, t('and-more', { n: all.length - MOST })),
          el('ul', { class: 'links' }, all.slice(MOST).map(item)),
        )
      : null,
  ]);
  return sheet('links-title', t('thing.links'), list.length === 0 ? el('p', null, t('thing.links.none')) : list);
}

function entrySheet(entry) {
  if (!entry) return sheet('entry-title', t('thing.entry'), el('p', null, t('thing.entry.none')));
  const standing =
    entry.standing === 'stands'
      ? null
      : el(
          'p',
          { class: 'warn' },
          t(`standing.${entry.standing}`),
          ' ',
          (entry.corrections || []).map((c) => [
            link('entry', c.seq, t('entry-n', { seq: c.seq })),
            ' ',
            c.reason,
            ' ',
          ]),
        );
  return sheet(
    'entry-title',
    t('thing.entry'),
    standing,
    facts([
      [t('column.entry'), link('entry', entry.seq, t('entry-n', { seq: entry.seq }))],
      [t('column.at-time'), fmt.stamp(entry.at)],
      [t('column.logged'), fmt.stamp(entry.logged)],
      [t('column.by'), entry.by],
      [t('column.terminal'), entry.terminal],
    ]),
    bodyOf(entry.kind, entry.body),
  );
}

/** What one may do next with a thing of a type. */
function actions(type, code) {
  const next = [];
  if (type !== 'hold') {
    next.push(el('a', { class: 'button main', href: api.recallOf(type, code) }, t('thing.ask.forward')));
    if (type !== 'heat' && type !== 'supply')
      next.push(el('a', { class: 'button', href: api.recallOf(type, code, 'back') }, t('thing.ask.back')));
  }
  if (type === 'hold')
    next.push(
      el('a', { class: 'button', href: api.url('board.html', { hold: code }) }, t('hold.release')),
      el('a', { class: 'button', href: api.recallOf(type, code) }, t('thing.ask.forward')),
    );
  if (TYPES.includes(type)) next.push(el('a', { class: 'button', href: api.genealogyOf(type, code) }, t('genealogy.see')));
  if (['heat', 'run', 'machine'].includes(type))
    next.push(el('a', { class: 'button', href: api.url('balance.html', { origin: `${type}:${code}` }) }, t('balance.see')));
  if (type === 'certificate')
    next.push(
      el('a', { class: 'button', href: api.pageOf('certificate', code) }, t('document.see')),
      el(
        'a',
        { class: 'button', href: api.url('log.html', { kind: 'withdraw', certificate: code }) },
        t('certificate.withdraw'),
      ),
    );
  if (type === 'instrument')
    next.push(el('a', { class: 'button', href: api.url('instruments.html', { instrument: code }) }, t('instruments.calibrations')));
  return el('div', { class: 'actions' }, next, el('button', { type: 'button', click: () => print() }, t('print')));
}

const CAUTIONS = { hold: 'caution.release', certificate: 'caution.certify', consignment: 'caution.dispatch' };

async function main() {
  await learnArea('measured');
  frame('thing');
  lookBack();
  const asked = new URLSearchParams(location.search);
  const type = asked.get('type') || '';
  const code = asked.get('code') || '';
  const place = byId('thing');
  if (!type || !code) return location.replace('index.html'); // nothing was asked for
  try {
    const thing = await api.thing(type, code);
    document.title = t('title', { page: thing.code });
    put(
      place,
      el(
        'div',
        { class: 'title' },
        el('h1', null, term('type', thing.type), ' ', el('span', { class: 'code' }, thing.code)),
      ),
      CAUTIONS[thing.type] ? el('p', { class: 'caution' }, t(CAUTIONS[thing.type])) : null,
      actions(thing.type, thing.code),
      el(
        'div',
        { class: 'two wide-left' },
        entrySheet(thing.entry),
        el(
          'div',
          null,
          thing.type === 'test' ? judgedSheet(thing.code) : null,
          linked(thing.links),
          notes(thing, `${thing.type}:${thing.code}`),
        ),
      ),
    );
  } catch (problem) {
    trouble(place, problem);
    place.append(el('p', null, el('a', { href: 'index.html' }, t('back-to-find'))));
    if (!(problem instanceof api.Problem)) throw problem;
  }
}

main();
