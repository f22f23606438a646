// What every page has around it: the way from page to page, the open-mode banner, units, and the words of the page
// itself.

import { byId, el, put } from './dom.js';
import { setUnits, units } from './format.js';
import * as api from './api.js';
import { banner } from './serving.js';
import { problemText } from './said.js';
import { language, t, translate } from './words.js';

const PAGES = [
  ['find', 'index.html'],
  ['recall', 'recall.html'],
  ['shop', 'shop.html'],
  ['quality', 'quality.html'],
  ['log', 'log.html'],
  ['ledger', 'ledger.html'],
  ['audit', 'audit.html'],
  ['people', 'people.html'],
];

/** The page of PAGES from which one comes to a page that isn't among them. */
const UNDER = {
  board: 'quality',
  certificate: 'quality',
  certificates: 'quality',
  chart: 'quality',
  instruments: 'quality',
  issue: 'quality',
  specs: 'quality',
  drill: 'audit',
  sample: 'audit',
  access: 'people',
  persons: 'people',
  rights: 'people',
  service: 'people',
  terminals: 'people',
  tokens: 'people',
  lot: 'find',
  thing: 'find',
};

/** For assistive technology: the page one is on, or the part of the site that it belongs to. */
function current(name, page) {
  if (name === page) return 'page';
  return name === UNDER[page] ? 'true' : null;
}

function unitSwitch() {
  const choice = (system) =>
    el(
      'button',
      {
        type: 'button',
        'aria-pressed': String(units() === system),
        title: t(`units.${system}.long`),
        click: () => {
          setUnits(system);
          location.reload();
        },
      },
      t(`units.${system}`),
    );
  return el('div', { class: 'segment', role: 'group', 'aria-label': t('units') }, choice('si'), choice('us'));
}

/** Who is signed in, with the way to their own page and the way out. Nobody is in open mode. */
function whoIsHere(who) {
  const place = byId('who');
  if (!place || who.open || !who.by) return;
  put(
    place,
    el(
      'a',
      { href: 'me.html', title: `${t('who.me')}: ${who.name} (${who.by})` },
      el('span', { class: 'visually-hidden' }, `${t('who.signed-in')} `),
      el('strong', null, who.name),
      who.name === who.by ? null : el('span', { class: 'who-code' }, `(${who.by})`),
    ),
    el('button', { type: 'button', id: 'sign-out', click: () => signOut() }, t('who.sign-out')),
  );
}

export async function signOut() {
  await api.order('/api/session/end');
  location.assign('signin.html');
}

document.addEventListener('kinwire-who', (event) => whoIsHere(event.detail));

async function learnWho() {
  try {
    const who = await api.me();
    banner(who);
    whoIsHere(who);
  } catch (problem) {
    // Whoever can't be asked who they are is told by the page's own request; who is nobody goes to the door.
    if (problem.slug === 'no-session') location.assign((await import('./door.js')).signInPage());
  }
}

/** Draw the frame; `page` is the name of the page one is on. `door`: the page for whoever isn't signed in. */
export async function frame(page, { door = false } = {}) {
  document.documentElement.lang = language;
  document.title = t('title', { page: t(`page.${page}`) });
  translate(document);
  const nav = el(
    'nav',
    { 'aria-label': t('nav') },
    el(
      'ul',
      null,
      PAGES.map(([name, href]) =>
        el('li', null, el('a', { href, 'aria-current': current(name, page) }, t(`nav.${name}`))),
      ),
    ),
  );
  put(
    byId('frame'),
    el('a', { class: 'skip', href: '#main' }, t('skip')),
    el(
      'a',
      { class: 'brand', href: 'index.html' },
      el('img', { src: 'mark.svg', alt: '', width: 32, height: 32 }),
      'kinwire',
    ),
    door ? el('span', { class: 'grow' }) : nav,
    el('div', { id: 'who' }),
    unitSwitch(),
  );
  document.body.append(el('footer', null, t('footer')));
  byId('banner').setAttribute('aria-label', t('open-mode.label'));
  if (!door) await learnWho();
}

/** Say in the page that something could not be had, and why. */
export function trouble(place, problem) {
  put(place, el('div', { class: 'trouble', role: 'alert' }, el('strong', null, t('trouble')), ' ', problemText(problem)));
}
