// Quality: the way to the pages of whoever judges metal and answers for it.

import { byId } from './dom.js';
import * as api from './api.js';
import { frame } from './frame.js';
import { hub } from './hub.js';
import { learnArea } from './words.js';

/** A row a page; `count` says what waits there. */
const TILES = [
  {
    name: 'board',
    href: 'board.html',
    count: async () => {
      const { holds, next } = await api.holds({ state: 'open', limit: 200 });
      return { n: holds.length, more: next !== null, urgent: holds.length > 0 };
    },
  },
  {
    name: 'certificates',
    href: 'certificates.html',
    count: async () => {
      const n = (await api.certificates({ state: 'marked', limit: 200 })).certificates.length;
      return { n, urgent: n > 0 };
    },
  },
  { name: 'issue', href: 'issue.html' },
  { name: 'chart', href: 'chart.html' },
  {
    name: 'specs',
    href: 'specs.html',
    count: async () => ({ n: new Set((await api.specs()).specs.map((s) => s.spec)).size }),
  },
  {
    name: 'instruments',
    href: 'instruments.html',
    count: async () => {
      const lapsed = (await api.instruments()).instruments.filter(
        (i) => i.found === 'bad' || (i.valid_until && Date.parse(i.valid_until) < Date.now()),
      );
      return { n: lapsed.length, urgent: lapsed.length > 0 };
    },
  },
];

await learnArea('quality');
frame('quality');
hub(byId('tiles'), TILES);
