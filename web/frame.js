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
];

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

/** Draw the frame; `page` is the name of the page one is on. */
export async function frame(page) {
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
        el('li', null, el('a', { href, 'aria-current': name === page ? 'page' : null }, t(`nav.${name}`))),
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
    nav,
    unitSwitch(),
  );
  document.body.append(el('footer', null, t('footer')));
  try {
    byId('banner').setAttribute('aria-label', t('open-mode.label'));
    banner(await api.me());
  } catch {
    // Whoever can't be asked who they are is told by the page's own request.
  }
}

/** Say in the page that something could not be had, and why. */
export function trouble(place, problem) {
  put(place, el('div', { class: 'trouble', role: 'alert' }, el('strong', null, t('trouble')), ' ', problemText(problem)));
}
