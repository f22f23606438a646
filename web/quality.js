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
];

await learnArea('quality');
frame('quality');
hub(byId('tiles'), TILES);
