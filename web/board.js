// The hold board: what is barred, since when, how much of it, what was asked, who decides, whom it reached, and what is
// missing before it can be released.

import { byId, el, put } from './dom.js';
import * as fmt from './format.js';
import * as api from './api.js';
import { decideDialog } from './decide.js';
import { frame, trouble } from './frame.js';
import { decided } from './decided.js';
import { link } from './parts.js';
import { inWords } from './question.js';
import { problemText } from './said.js';
import { learnArea, t } from './words.js';

const PAGE = 100;

/** In which order holds stand on the board; a mass that is not known comes first, as it may be the greatest. */
const ORDERS = {
  weight: (a, b) => (b.left_g ?? Infinity) - (a.left_g ?? Infinity) || b.left_mm - a.left_mm || b.seq - a.seq,
  age: (a, b) => a.at.localeCompare(b.at) || a.seq - b.seq,
};

/** For how long, in the largest unit that says it. */
function age(at) {
  const minutes = Math.max(0, Math.floor((Date.now() - new Date(at).getTime()) / 60000));
  if (minutes < 60) return t('board.minutes', { n: minutes });
  return minutes < 24 * 60
    ? t('board.hours', { n: Math.floor(minutes / 60) })
    : t('board.days', { n: Math.floor(minutes / (24 * 60)) });
}

const metal = (mm, g) => `${fmt.length(mm)} · ${fmt.mass(g)}`;

/* --- one hold ------------------------------------------------------------------------------------- */

/** The question it came of, to be asked again as it was asked. */
function question(hold) {
  if (!hold.trace) return hold.question ? el('p', null, hold.question) : null;
  const { size, root, ...asked } = hold.trace;
  return el(
    'p',
    null,
    el('a', { href: api.url('recall.html', asked) }, inWords(asked)),
    ' ',
    el('span', { class: 'quiet', title: root }, t('board.asked-at', { seq: size })),
  );
}

/**
 * What to ask for whom it reached: of a recall its own question, since what was sent out before it cannot be held here
 * and is what matters most; else what was made of the metal that is held.
 */
function reachOf(hold) {
  if (!hold.trace) return { origin: `hold:${hold.hold}`, direction: 'forward' };
  const { size, root, ...asked } = hold.trace;
  return asked;
}

/** Who has it: asked for once the board stands, one hold after the other. */
async function reach(hold, place) {
  const question = reachOf(hold);
  try {
    const answer = await api.trace(question, { limit: 1 });
    const to = answer.containment.consignments;
    const names = [...new Set(to.map((c) => c.consignee))].sort();
    put(
      place,
      names.length === 0
        ? t(hold.trace ? 'board.nobody-traced' : 'board.nobody')
        : [
            el('strong', null, t('board.customers', { n: names.length })),
            ' ',
            names.slice(0, 4).join(', '),
            names.length > 4 ? ` ${t('and-more', { n: names.length - 4 })}` : '',
            ' ',
            el('span', { class: 'quiet' }, t('board.reels', { n: to.reduce((n, c) => n + c.reels.length, 0) })),
          ],
      ' ',
      el('a', { href: api.url('recall.html', question) }, t('board.reach')),
    );
    place.dataset.known = 'true';
  } catch (problem) {
    put(place, problemText(problem));
  }
}

const free = (hold, who) => hold.second.agreements.filter((a) => !a.used && (who.open || a.by !== who.by));

/** Where the second person stands. */
function second(hold, who) {
  if (!hold.second.needed) return el('p', { class: 'quiet' }, t('second.not-needed'));
  const why = hold.second.failed ? t('second.failed', { test: hold.second.failed }) : t('second.recalled');
  const agreed = hold.second.agreements.filter((a) => !a.used);
  return el(
    'div',
    { class: agreed.length > 0 ? 'second agreed' : 'second' },
    agreed.length === 0
      ? [el('strong', null, t(who.open ? 'second.open' : 'second.waits')), ' ', why]
      : agreed.map((a) =>
          el(
            'p',
            null,
            el('strong', null, t('second.agreed', { by: a.by, what: decided(a) })),
            ' ',
            a.lots ? t('second.part', { n: new Set(a.lots.map((p) => p.lot)).size }) : '',
            ' ',
            a.reason,
            ' ',
            link('entry', a.seq, t('entry-n', { seq: a.seq })),
          ),
        ),
  );
}

function actions(hold, who, again) {
  const agreed = free(hold, who);
  const alone = hold.second.needed && !who.open && agreed.length === 0;
  const decide = (as, given) => () => decideDialog(hold, as, given, again, alone && as === 'release');
  return el(
    'div',
    { class: 'actions' },
    agreed.map((a) =>
      el('button', { type: 'button', class: 'main', click: decide('release', a) }, t('decide.as-agreed', { by: a.by })),
    ),
    el(
      'button',
      { type: 'button', class: agreed.length > 0 ? null : 'main', 'data-decide': hold.hold, click: decide('release') },
      t('decide.open'),
    ),
    hold.second.needed && !who.open
      ? el('button', { type: 'button', 'data-agree': hold.hold, click: decide('agree') }, t('agree.open'))
      : null,
  );
}

function held(hold, who, again) {
  const reached = el('dd', { 'data-reach': hold.hold, 'aria-busy': 'true' }, t('board.looking'));
  const gone = hold.open_mm - hold.left_mm;
  return el(
    'li',
    { class: 'sheet held', 'data-hold': hold.hold },
    el(
      'div',
      { class: 'held-head' },
      el('h2', null, link('hold', hold.hold)),
      el('strong', { class: 'held-age' }, age(hold.at)),
      el('span', { class: 'quiet' }, t('board.by', { by: hold.by, at: fmt.stamp(hold.at) })),
    ),
    el('p', { class: 'held-why' }, hold.reason),
    question(hold),
    el(
      'dl',
      { class: 'facts' },
      el('div', null, el('dt', null, t('board.there')), el('dd', null, metal(hold.left_mm, hold.left_g))),
      el('div', null, el('dt', null, t('board.gone')), el('dd', null, gone > 0 ? fmt.length(gone) : t('none'))),
      el('div', null, el('dt', null, t('board.lots')), el('dd', null, fmt.count(hold.open_lots))),
      el('div', null, el('dt', null, t('board.decides')), el('dd', null, hold.decides || t('board.nobody-named'))),
      el('div', { class: 'wide' }, el('dt', null, t('board.has')), reached),
    ),
    second(hold, who),
    el(
      'details',
      null,
      el('summary', null, t('board.what-lots', { n: hold.open_lots })),
      el(
        'ul',
        { class: 'held-lots' },
        hold.lots
          .filter((l) => l.open_spans.length > 0)
          .map((l) => el('li', null, link('lot', l.lot), ' ', el('span', { class: 'soft' }, fmt.spans(l.open_spans)))),
      ),
    ),
    actions(hold, who, again),
  );
}

/* --- the board --------------------------------------------------------------------------------------- */

async function all() {
  const holds = [];
  let before = null;
  do {
    const page = await api.holds({ state: 'open', limit: PAGE, before });
    holds.push(...page.holds);
    before = page.next;
  } while (before);
  return holds;
}

function sums(holds) {
  const known = holds.every((h) => h.left_g !== null);
  return t('board.sums', {
    n: holds.length,
    length: fmt.length(holds.reduce((sum, h) => sum + h.left_mm, 0)),
    mass: fmt.mass(known ? holds.reduce((sum, h) => sum + h.left_g, 0) : null),
  });
}

const wanted = new URLSearchParams(location.search);
let order = wanted.get('order') in ORDERS ? wanted.get('order') : 'weight';

function orders(redraw) {
  return el(
    'div',
    { class: 'segment on-paper', role: 'group', 'aria-label': t('board.order') },
    Object.keys(ORDERS).map((name) =>
      el(
        'button',
        {
          type: 'button',
          'aria-pressed': String(name === order),
          click: () => {
            order = name;
            redraw();
          },
        },
        t(`board.order.${name}`),
      ),
    ),
  );
}

/** From a board that shows one hold to the whole of it. */
const others = (n) => el('p', { class: 'no-print' }, el('a', { id: 'all-holds', href: 'board.html' }, t('board.all', { n })));

async function draw(who) {
  const place = byId('board');
  try {
    const holds = await all();
    const one = wanted.get('hold');
    const shown = one ? holds.filter((h) => h.hold === one) : holds;
    const again = () => draw(who);
    const redraw = async () => {
      if (shown.length === 0) {
        put(
          place,
          el(
            'div',
            { class: 'sheet' },
            one ? el('p', null, link('hold', one), ' ', t('board.decided')) : null,
            holds.length === 0 ? el('p', null, t('board.none')) : others(holds.length),
          ),
        );
        return;
      }
      put(
        place,
        el(
          'div',
          { class: 'board-bar' },
          el('p', { class: 'headline' }, sums(shown)),
          orders(redraw),
          el('button', { type: 'button', class: 'no-print', click: () => print() }, t('print')),
        ),
        shown.length < holds.length ? others(holds.length) : null,
        el('p', { class: 'caution' }, t('caution.release')),
        el(
          'ul',
          { class: 'board' },
          [...shown].sort(ORDERS[order]).map((h) => held(h, who, again)),
        ),
      );
      for (const h of shown) {
        const node = place.querySelector(`[data-reach="${CSS.escape(h.hold)}"]`);
        if (node) await reach(h, node);
        node?.removeAttribute('aria-busy');
      }
    };
    await redraw();
  } catch (problem) {
    trouble(place, problem);
  }
}

await learnArea('quality');
frame('board');
addEventListener('beforeprint', () => {
  for (const fold of byId('board').querySelectorAll('details')) fold.open = true;
});
try {
  await draw(await api.me());
} catch (problem) {
  trouble(byId('board'), problem);
}
