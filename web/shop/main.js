// The shop terminal: one scan box, one question at a time, the floor below it, and the count of what waits always in
// view.

import { byId, el, put } from '../dom.js';
import { setUnits } from '../format.js';
import { languages, translate } from '../words.js';
import { banner } from '../serving.js';
import * as queue from '../queue.js';
import { accepted } from './accept.js';
import * as ask from './ask.js';
import * as back from './back.js';
import * as batch from './batch.js';
import * as cut from './cut.js';
import * as door from './door.js';
import * as floor from './floor.js';
import * as goods from './goods.js';
import * as runs from './runs.js';
import * as stores from './stores.js';
import * as testing from './testing.js';
import * as undo from './undo.js';
import * as where from './where.js';
import { asCode } from './codes.js';
import { bare, otherwise, whyNot } from './scan.js';
import { ask as askServer } from './server.js';
import { STATIONS } from './stations.js';
import { stop } from './stop.js';
import { language, system, t } from './say.js';

const PAGES = { goods, batch, runs, cut, testing, stores };
const station = where.station();
const page = station && where.name() ? PAGES[station.page] : null;

let chain = Promise.resolve(); /* scans and steps, one after the other */
let busy = 0; /* how many of them are not done yet */

/** Say something below the box; what is done is seen in the row with the undo, and only said here. */
function say(text, cls = 'good') {
  const place = byId('said');
  place.className = cls === 'done' ? 'visually-hidden' : cls;
  put(
    place,
    cls === 'done'
      ? null
      : el('span', { 'aria-hidden': 'true' }, { good: '\u2713 ', warn: '\u25b2 ', bad: '\u2715 ' }[cls]),
    text,
  );
}

/** What the pages of the stations work with. */
const shop = {
  station,
  say,
  async stop(what) {
    await stop(what);
    nothingTwice();
  },
  cancel: ask.cancel,
  ready: ask.ready,
  draw() {
    page.draw(byId('work'));
  },

  /** Do one thing after what is being done; a question that is open is left for it. */
  doing(work) {
    if (ask.asking()) ask.cancel();
    put(byId('said')); /* of what was done before */
    busy += 1;
    document.body.dataset.busy = String(busy);
    chain = chain
      .then(work)
      .catch((cause) => {
        console.error(cause);
        say(t('went-wrong', { text: cause.message }), 'bad');
      })
      .finally(() => {
        busy -= 1;
        if (busy === 0) delete document.body.dataset.busy;
        ask.ready();
      });
    return chain;
  },

  /** Check and record an entry; `text` says what was done. Whether it was. */
  async record(entry, text, { unknown = false } = {}) {
    const checked = await accepted({ ...entry, say: { ...entry.say, text } });
    if (!checked) return false;
    const { unchecked, ...row } = checked;
    await queue.add(row);
    nothingTwice();
    await floor.update();
    say(unchecked ? t(unknown ? 'said.unknown' : 'said.unchecked', { text }) : text, unchecked ? 'warn' : 'done');
    return true;
  },
};

function scanned(event) {
  event.preventDefault();
  const field = byId('scan');
  const { text, marked } = bare(field.value);
  if (ask.asking()) {
    ask.answer(text, marked);
    return;
  }
  const typed = field.value;
  field.value = '';
  if (!text) return;
  const code = asCode(typed);
  if (!code) shop.doing(() => misread(typed));
  else if (twice(code)) say(t('scan.twice', { code }), 'warn');
  else shop.doing(() => page.scanned(code));
}

/* A trigger that bounced, or a beep that was not heard: the same code again at once, with nothing else done between. */
let last = { code: null, at: 0 };
const TWICE = 1500; /* ms */

function twice(code) {
  const again = last.code === code && (busy > 0 || Date.now() - last.at < TWICE);
  last = { code, at: Date.now() };
  return again;
}

const nothingTwice = () => {
  last = { code: null, at: 0 };
};

/** What can't be a code: said, with what it would be on another keyboard, which a person holds against the label. */
async function misread(typed) {
  const text = [...bare(typed).text].slice(0, 60).join('');
  const meant = otherwise(typed);
  if (meant.length === 0) {
    say(t(whyNot(typed), { text, n: [...bare(typed).text].length }), 'warn');
    return;
  }
  const code = await ask.choose({
    title: t('scan.layout', { text }),
    about: el('p', null, t('scan.layout.what')),
    options: meant.map((m) => ({
      value: m.code,
      label: t('scan.layout.take', { code: m.code, layout: t(`layout.${m.layout}`) }),
    })),
    typed: asCode,
    first: false,
  });
  if (code) await page.scanned(code);
}

/* --- the bar ------------------------------------------------------------------------------------ */

async function drawQueue() {
  const rows = await queue.waiting();
  const back1 = rows.filter((r) => r.problem).length;
  const wait = rows.length - back1;
  const chip = byId('count');
  chip.className = back1 > 0 ? 'chip came-back' : wait > 0 ? 'chip waits' : 'chip none';
  chip.dataset.waiting = String(wait);
  chip.dataset.back = String(back1);
  put(
    chip,
    el('span', { 'aria-hidden': 'true' }, back1 > 0 ? '\u25b2 ' : wait > 0 ? '\u29d6 ' : '\u2713 '),
    back1 > 0 ? t('queue.back', { n: back1 }) : t('queue.waiting', { n: wait }),
  );
  const state = byId('link');
  const refused = queue.who.known && !queue.who.open && !queue.who.sends && !queue.link.away;
  const was = state.className;
  state.className = `chip ${queue.link.away ? 'away' : 'here'}`;
  put(
    state,
    el('span', { 'aria-hidden': 'true' }, queue.link.away ? '\u25b2 ' : '\u25cf '),
    t(refused ? 'link.stopped' : queue.link.away ? 'link.away' : 'link.here'),
  );
  if (state.className !== was) ask.inView();
  const held = await queue.waitForOthers();
  byId('queue-title').textContent = [
    t('queue.title', { n: wait, back: back1 }),
    ...[...held].map(([name, n]) => (name ? t('queue.for', { n, name }) : t('queue.for-nobody', { n }))),
  ].join(' ');
  if (back1 > 0 && !byId('queue').dataset.seen) {
    byId('queue').open = true;
    byId('queue').dataset.seen = 'yes';
  } else if (back1 === 0) delete byId('queue').dataset.seen;
  back.draw(byId('queue-list'));
}

function bar() {
  put(
    byId('bar'),
    el(
      'a',
      { class: 'brand', href: 'index.html' },
      el('img', { src: 'mark.svg', alt: '', width: 32, height: 32 }),
      el('span', null, 'kinwire'),
    ),
    el('h1', null, page ? t(`station.${station.id}`) : t('choose.title')),
    el(
      'div',
      { class: 'chips' },
      el('button', { type: 'button', id: 'who-now', hidden: true }),
      el('span', { id: 'link', class: 'chip', role: 'status' }),
      el('button', {
        type: 'button',
        id: 'count',
        class: 'chip',
        disabled: !page,
        click: () => {
          byId('queue').open = true;
          byId('queue-title').focus();
          byId('queue').scrollIntoView();
        },
      }),
    ),
    page
      ? el(
          'button',
          { type: 'button', id: 'change', click: () => choosing(true) },
          el('span', null, where.name()),
          el('span', { class: 'visually-hidden' }, ` ${t('choose.change')}`),
          el('span', { 'aria-hidden': 'true' }, ' \u2699'),
        )
      : null,
  );
}

/* --- where this terminal stands ----------------------------------------------------------------- */

const LANGUAGE_NAMES = { en: 'English', es: 'Espa\u00f1ol' };

function choosing(again = false) {
  const name = el('input', {
    id: 'terminal-name',
    class: 'code-in',
    maxlength: 40,
    value: where.name() || '',
    'aria-describedby': 'terminal-wrong',
    autocomplete: 'off',
  });
  const wrong = el('span', { class: 'wrong', id: 'terminal-wrong' });
  const pick = (label, options, now, change) =>
    el(
      'div',
      { class: 'field' },
      el('span', { class: 'label' }, label),
      el(
        'div',
        { class: 'pick', role: 'group', 'aria-label': label },
        options.map(([value, text]) =>
          el(
            'button',
            {
              type: 'button',
              lang: LANGUAGE_NAMES[value] ? value : null,
              'aria-pressed': String(value === now),
              click: () => change(value),
            },
            text,
          ),
        ),
      ),
    );
  const keepName = () => {
    const code = asCode(name.value);
    if (code) where.setName(code);
    return code;
  };
  const go = (id) => {
    if (!keepName()) {
      wrong.textContent = t('choose.name-wrong');
      name.setAttribute('aria-invalid', 'true');
      name.focus();
      return;
    }
    where.setStation(id);
    location.assign(`shop.html?station=${id}`);
  };
  const reload = (change) => (value) => {
    change(value);
    keepName();
    location.reload();
  };
  byId('floor').hidden = true;
  byId('choose').hidden = false;
  put(
    byId('choose'),
    el(
      'div',
      { class: 'fields' },
      el('div', { class: 'field' }, el('label', { for: 'terminal-name' }, t('choose.name')), name, wrong),
      pick(
        t('choose.language'),
        languages.map((l) => [l, LANGUAGE_NAMES[l] || l]),
        language,
        reload((v) => localStorage.setItem('kinwire.language', v)),
      ),
      pick(
        t('units'),
        ['si', 'us'].map((s) => [s, t(`units.${s}.full`)]),
        system(),
        reload(setUnits),
      ),
    ),
    el('h2', null, t('choose.station')),
    el(
      'div',
      { class: 'stations' },
      STATIONS.map((s) =>
        el(
          'button',
          { type: 'button', 'data-station': s.id, 'aria-pressed': String(s.id === station?.id), click: () => go(s.id) },
          el('strong', null, t(`station.${s.id}`)),
          el('small', null, t(`station.${s.id}.what`)),
        ),
      ),
    ),
    el(
      'p',
      null,
      el('a', { class: 'button', href: 'log.html?kind=run' }, t('choose.paper')),
      ' ',
      again ? el('button', { type: 'button', click: () => location.assign('shop.html') }, t('cancel')) : null,
    ),
  );
  if (!where.name()) name.focus();
}

let typedAt = 0; /* when the last character came */

/** Keys that go to the box wherever the focus is; Escape leaves a question. */
function keys(event) {
  if (document.body.classList.contains('stopped') || document.body.classList.contains('at-the-door')) return;
  if (event.key === 'Escape' && ask.asking()) {
    event.preventDefault();
    ask.cancel();
    return;
  }
  const field = byId('scan');
  const fast = event.timeStamp - typedAt < 60;
  if (event.key === 'Tab' && !event.shiftKey && fast && event.target === field && field.value && !field.disabled) {
    event.preventDefault(); /* some scanners end a code with it */
    byId('scan-form').requestSubmit();
    return;
  }
  if (event.ctrlKey || event.altKey || event.metaKey || event.key.length !== 1) return;
  typedAt = event.timeStamp;
  if (event.key === ' ') return;
  if (event.target.matches?.('input, textarea, select') || byId('scan').disabled) return;
  byId('scan').focus();
}

async function begin() {
  document.documentElement.lang = language;
  document.title = t('title', { page: page ? t(`station.${station.id}`) : t('choose.title') });
  translate(document);
  bar();
  if (navigator.serviceWorker) navigator.serviceWorker.register('sw.js').catch(() => {});
  queue.onChange(drawQueue);
  await drawQueue();
  await door.know();
  if (!page) {
    if (door.isDevice()) {
      /* its name is the terminal's */
      await door.begin();
      location.reload();
      return;
    }
    choosing();
    queue.begin();
    return;
  }
  byId('floor').hidden = false;
  byId('scan-form').addEventListener('submit', scanned);
  document.addEventListener('pointerdown', nothingTwice, true);
  document.addEventListener('keydown', keys);
  document.addEventListener('click', (event) => {
    if (
      !event.target.closest('a, button, input, select, textarea, summary, label, [tabindex="0"]') &&
      !String(getSelection())
    )
      ask.ready();
  });
  const field = byId('scan');
  if (matchMedia('(pointer: coarse)').matches) field.inputMode = 'none';
  byId('keys').addEventListener('click', () => {
    field.inputMode = field.inputMode === 'none' ? 'text' : 'none';
    field.blur();
    field.focus();
  });
  await door.begin();
  page.begin(shop);
  ask.idleText(() => t(station.scan));
  queue.onChange(undo.draw);
  floor.onFloor(() => {
    if (page !== testing) shop.draw();
  });
  undo.draw();
  shop.draw();
  ask.ready();
  floor.begin();
  queue.begin();
  try {
    banner((await askServer('/api/me')).body);
  } catch {
    /* Without the server there is nobody to ask; the page goes on. */
  }
}

begin();
