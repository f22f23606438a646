// Who is working here. At a terminal of the shop floor one signs in by badge and PIN, with big keys or by scanner and
// keyboard; after five quiet minutes, or at a change of shift, the screen asks again and the run on it stays.
//
// An entry is recorded by the server under the name whose session sends it. So what one person made here waits until that
// person's session sends it (web/queue.js), and is never sent as another's. While the server is away nobody can be
// checked: one goes on under the name that one gives, and is asked for the entries when one signs in with the PIN.
//
// In open mode nobody signs in, and there is no door.

import { byId, el, put } from '../dom.js';
import { get, Problem } from '../api.js';
import * as queue from '../queue.js';
import { box, refusalText } from '../door.js';
import { bare } from './scan.js';
import { alive, post } from './server.js';
import * as where from './where.js';
import { t, term } from './say.js';

const QUIET = 300000; /* ms */
const KEPT = 'who';
const RECENT = 6;

let session = { open: true, terminal: null };
let quiet = Date.now(); /* since when */
let waiting = null; /* resolves when somebody is in */
let pin = '';

const here = () => queue.who;
const keep = () => where.remember(KEPT, { ...here(), csrf: null, seen: quiet });

function drawWho() {
  const place = byId('who-now');
  if (!place) return;
  const { open, by, name, claimed } = here();
  place.hidden = open || !(by || claimed);
  put(
    place,
    el('span', { class: 'visually-hidden' }, `${t('pin.works')} `),
    el('strong', null, name || by || claimed),
    claimed ? ` (${t('pin.unchecked')})` : '',
    el('span', { 'aria-hidden': 'true' }, ' \u21c4'),
    el('span', { class: 'visually-hidden' }, ` ${t('pin.hand-over')}`),
  );
}

/* --- the screen --------------------------------------------------------------------------------- */

function cover(on) {
  byId('door').hidden = !on;
  byId('main').inert = on;
  byId('door').style.paddingTop = `${byId('bar').getBoundingClientRect().height + 12}px`;
  document.body.classList.toggle('at-the-door', on);
}

const said = () => byId('door-said');
const say = (text) => put(said(), text ? el('div', { class: 'trouble' }, text) : null);

function sheet(title, ...kids) {
  put(
    byId('door'),
    el(
      'div',
      { class: 'door-sheet', role: 'dialog', 'aria-modal': 'true', 'aria-labelledby': 'door-title' },
      el('h2', { id: 'door-title' }, title),
      kids,
    ),
  );
}

const others = (...rows) => el('div', { class: 'door-others' }, rows.filter(Boolean));
const button = (text, click, attrs = {}) => el('button', { type: 'button', click, ...attrs }, text);
const byPassword = () =>
  el('a', { class: 'button', href: `signin.html?to=${encodeURIComponent('shop.html')}` }, t('pin.by-password'));

const whoIs = (me) => ({
  known: true,
  open: false,
  by: me.by,
  name: me.name,
  claimed: null,
  sends: me.by,
  csrf: me.csrf,
  how: me.how,
  roles: me.roles,
});

/** Somebody is in: what they left unsent goes, and what was made under their name unchecked is shown to them. */
async function admitted(me, id) {
  queue.setWho(whoIs(me));
  quiet = Date.now();
  keep();
  if (me.how === 'pin') {
    const recent = (where.remembered('recent') || []).filter((r) => r.by !== me.by);
    where.remember('recent', [{ by: me.by, name: me.name, id }, ...recent].slice(0, RECENT));
  }
  const rows = await queue.unclaimed([id, me.by].filter(Boolean));
  if (rows.length > 0) return mine(rows);
  return through();
}

function through() {
  cover(false);
  put(byId('door'));
  drawWho();
  waiting?.resolve();
  waiting = null;
}

/* Entries made here while nobody could be checked, under this name or none. */
function mine(rows) {
  sheet(
    t('pin.mine', { n: rows.length }),
    el('p', null, t('pin.mine.what')),
    el('ol', { class: 'waits' }, rows.map((r) => el('li', null, r.say?.text || term('entry', r.kind)))),
    el(
      'div',
      { class: 'ask-go' },
      button(
        t('pin.mine.yes'),
        async () => {
          await queue.claim(rows.map((r) => r.n));
          through();
        },
        { class: 'main go', id: 'mine-yes' },
      ),
      button(t('pin.mine.no'), async () => {
        await queue.disown(
          rows.map((r) => r.n),
          t('pin.mine.not'),
        );
        through();
      }),
    ),
  );
  byId('mine-yes').focus();
}

/** Which badge, or which of those who were here lately. */
function askBadge(text = null) {
  const badge = el('input', {
    id: 'badge',
    class: 'code-in',
    maxlength: 40,
    autocomplete: 'off',
    spellcheck: 'false',
    inputmode: matchMedia('(pointer: coarse)').matches ? 'none' : 'text',
  });
  const recent = where.remembered('recent') || [];
  sheet(
    t('pin.who'),
    el(
      'form',
      {
        novalidate: true,
        submit: (event) => {
          event.preventDefault();
          const id = bare(badge.value).text.toUpperCase();
          if (id) askPin(id);
        },
      },
      el('label', { for: 'badge' }, t('pin.badge')),
      el('div', { class: 'scan-row' }, badge, button('\u2328', () => keys(badge), { 'aria-label': t('scan.keys') })),
    ),
    el('div', { id: 'door-said', role: 'alert' }),
    recent.length > 0
      ? el(
          'div',
          { class: 'options', role: 'group', 'aria-label': t('pin.recent') },
          recent.map((r) => button(r.name, () => askPin(r.id || r.by, r.name), { class: 'person' })),
        )
      : null,
    others(button(t('pin.have-code'), setPin), byPassword()),
  );
  say(text);
  cover(true);
  badge.focus();
}

function keys(field) {
  field.inputMode = field.inputMode === 'none' ? 'text' : 'none';
  field.blur();
  field.focus();
}

function drawDots() {
  const dots = byId('pin-dots');
  put(dots, '\u25cf'.repeat(pin.length) || '\u00a0');
  dots.setAttribute('aria-label', t('pin.digits', { n: pin.length }));
}

/** The PIN, on keys of the screen or the keyboard. */
function askPin(id, name = id) {
  pin = '';
  const go = async () => {
    if (pin.length === 0 || byId('pin-go').disabled) return;
    byId('pin-go').disabled = true;
    const given = pin;
    pin = '';
    drawDots();
    say(null);
    try {
      await admitted(await post('/api/session/badge', { badge: id, pin: given }), id);
    } catch (problem) {
      if (problem.status === 0) goOn(id, name);
      else say(problem.slug === 'not-allowed' ? t('pin.not-here') : refusalText(problem));
    } finally {
      if (byId('pin-go')) byId('pin-go').disabled = false;
    }
  };
  const press = (digit) => () => {
    if (pin.length < 12) pin += digit;
    drawDots();
  };
  const back = () => {
    pin = pin.slice(0, -1);
    drawDots();
  };
  sheet(
    t('pin.title', { name }),
    el('p', { id: 'pin-dots', class: 'pin-dots', role: 'img' }),
    el('div', { id: 'door-said', role: 'alert' }),
    el(
      'div',
      { class: 'pin-pad', role: 'group', 'aria-label': t('keypad') },
      ['1', '2', '3', '4', '5', '6', '7', '8', '9'].map((d) => button(d, press(d))),
      button('\u232b', back, { 'aria-label': t('keypad.back') }),
      button('0', press('0')),
      button(t('pin.go'), go, { class: 'main', id: 'pin-go' }),
    ),
    others(button(t('pin.another'), () => askBadge()), button(t('pin.have-code'), () => setPin(id))),
  );
  drawDots();
  cover(true);
  byId('pin-go').focus();
  byId('door').onkeydown = (event) => {
    if (!byId('pin-dots') || event.ctrlKey || event.altKey || event.metaKey) return;
    if (/^\d$/.test(event.key)) press(event.key)();
    else if (event.key === 'Backspace') back();
    else if (event.key === 'Escape') askBadge();
    else if (event.key === 'Enter' && !event.target.matches('button:not(#pin-go), a')) go();
    else return;
    event.preventDefault();
  };
}

/** The server is away: one goes on under the name that one gives, unchecked. */
function goOn(id, name) {
  sheet(
    t('pin.away'),
    el('p', null, t('pin.away.what', { name })),
    el(
      'div',
      { class: 'ask-go' },
      button(
        t('pin.away.go', { name }),
        () => {
          queue.setWho({ known: true, open: false, by: null, name, claimed: id, how: 'claimed' });
          quiet = Date.now();
          keep();
          through();
        },
        { class: 'main go', id: 'go-on' },
      ),
      button(t('pin.another'), () => askBadge()),
    ),
  );
  cover(true);
  byId('go-on').focus();
}

/* --- codes: for a PIN, and for the device ---------------------------------------------------------- */

function form(title, about, fields, go, send) {
  const submit = async (event) => {
    event.preventDefault();
    say(null);
    try {
      await send(...fields.map((f) => f.input.value.trim()));
    } catch (problem) {
      say(problem.plain || (problem.status === 0 ? t('no-answer') : refusalText(problem)));
    }
  };
  sheet(
    title,
    el('p', null, about),
    el(
      'form',
      { submit, novalidate: true },
      el('div', { class: 'fields' }, fields.map((f) => f.node)),
      el('div', { id: 'door-said', role: 'alert' }),
      el('div', { class: 'ask-go' }, el('button', { type: 'submit', class: 'main go' }, go)),
    ),
    others(session.terminal ? button(t('pin.another'), () => askBadge()) : null, byPassword()),
  );
  cover(true);
  (fields.find((f) => !f.input.value) || fields[0]).input.focus();
}

function setPin(id = '') {
  const digits = { type: 'password', inputmode: 'numeric', maxlength: 12 };
  const fields = [
    box('pin-person', t('door.person'), { class: 'code-in', value: id }),
    box('pin-code', t('door.code'), { class: 'code-in' }, t('door.code.hint')),
    box('pin-new', t('me.pin.new'), digits, t('me.pin.hint')),
    box('pin-repeat', t('door.repeat'), digits),
  ];
  form(t('me.pin'), t('me.pin.what'), fields, t('me.pin.go'), async (person, code, one, two) => {
    if (one !== two) throw Object.assign(new Error(), { plain: t('door.not-same') });
    await post('/api/pin', { person: person.toUpperCase(), code, pin: one });
    askPin(person.toUpperCase());
  });
}

function enrol() {
  const fields = [
    box('enrol-terminal', t('terminal.code'), { class: 'code-in', value: where.name() || '' }),
    box('enrol-code', t('door.code'), { class: 'code-in' }, t('pin.enrol.hint')),
  ];
  form(t('pin.enrol'), t('pin.enrol.what'), fields, t('pin.enrol.go'), async (terminal, code) => {
    const got = await post('/api/terminals/enrol', { terminal: terminal.toUpperCase(), code });
    session.terminal = got.terminal;
    where.setName(got.terminal);
    askBadge();
  });
}

/** Ask who is working: by badge at a terminal, or what this device is. */
export function ask(text = null) {
  document.activeElement?.blur();
  if (session.terminal) askBadge(text);
  else enrol();
}

/* --- coming and going ------------------------------------------------------------------------------ */

/** Nobody works here from now on. What the last one made goes with their session, which then ends. */
export async function lock(text = null) {
  queue.setWho({ by: null, name: null, claimed: null, roles: [] });
  keep();
  drawWho();
  ask(text);
  await end();
}

async function end() {
  const { sends, by, open } = here();
  if (open || by || !sends || queue.link.away || (await queue.mayGo())) return;
  try {
    await post('/api/session/end', {});
  } catch {
    /* It ends by itself. */
  }
  queue.setWho({ sends: null, csrf: null });
}

/** The server no longer knows who is here. */
function ended() {
  if (here().claimed || document.body.classList.contains('at-the-door')) return;
  queue.setWho({ by: null, name: null });
  keep();
  drawWho();
  ask(t('pin.ended'));
}

function watch() {
  for (const sign of ['pointerdown', 'keydown'])
    document.addEventListener(
      sign,
      () => {
        quiet = Date.now();
        alive(quiet);
      },
      true,
    );
  setInterval(() => {
    const { open, by, claimed, how } = here();
    if (!open && (by || claimed) && how !== 'password' && Date.now() - quiet > QUIET) lock(t('pin.quiet'));
    else if (!open && !by) end();
    keep();
  }, 2000);
  queue.onChange((what) => {
    if (what.ended) ended();
    if (what.who || what.link) drawWho();
  });
  document.addEventListener('kinwire-no-session', ended);
  byId('who-now').addEventListener('click', () => lock());
}

/** What was so when this page was last here, for as long as it may count. */
function fromBefore() {
  const old = where.remembered(KEPT);
  if (!old || old.open) return queue.setWho({ known: true, open: true });
  session = { open: false, terminal: where.name() };
  if ((old.by || old.claimed) && Date.now() - old.seen < QUIET) return queue.setWho({ ...old, known: true });
  queue.setWho({ known: true, open: false, by: null, name: null, claimed: null, sends: null });
  return undefined;
}

async function fromServer() {
  session = await get('/api/session', undefined, AbortSignal.timeout(5000));
  if (session.terminal) where.setName(session.terminal);
  if (session.open) return queue.setWho({ known: true, open: true });
  if (!session.signed_in) return queue.setWho({ known: true, open: false, by: null, sends: null });
  const me = await get('/api/me');
  return queue.setWho(whoIs(me));
}

/** Learn whether anybody has to sign in here, and who is: nothing is sent before that. */
export async function know() {
  try {
    await fromServer();
  } catch (problem) {
    if (problem instanceof Problem && problem.status > 0) throw problem;
    fromBefore();
  }
}

/** Whether this is a device of which nobody has said what it is, where one has to sign in. */
export const isDevice = () => !here().open && !here().by && !here().claimed && !where.name();

/** Begin: resolves once somebody is in, at once in open mode. */
export async function begin() {
  watch();
  keep();
  drawWho();
  if (here().open || here().by || here().claimed) return undefined;
  ask();
  return new Promise((resolve) => {
    waiting = { resolve };
  });
}
