// People: the way to the pages of who and what there is, what each may do, and who came in.

import { byId } from './dom.js';
import * as api from './api.js';
import './door.js';
import { frame } from './frame.js';
import { hub } from './hub.js';

/* Counts of what needs a look; who may not see a list has no count. */
const TILES = [
  {
    name: 'persons',
    href: 'persons.html',
    count: async () => {
      const open = (await api.get('/api/people')).people.filter((p) => !p.closed);
      return { n: open.length, urgent: open.some((p) => p.locked_s > 0) };
    },
  },
  {
    name: 'terminals',
    href: 'terminals.html',
    count: async () => ({ n: (await api.get('/api/terminals')).terminals.filter((x) => !x.closed && x.enrolled).length }),
  },
  {
    name: 'tokens',
    href: 'tokens.html',
    count: async () => ({ n: (await api.get('/api/tokens')).tokens.filter((x) => !x.closed).length }),
  },
  { name: 'rights', href: 'rights.html' },
  { name: 'access', href: 'access.html' },
  { name: 'me', href: 'me.html' },
  { name: 'service', href: 'service.html' },
];

frame('people');
hub(byId('tiles'), TILES);
