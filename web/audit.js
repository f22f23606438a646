// Audit: where an auditor begins. Tiles to the pages of the area; what can be taken out of the mill; the witness.

import { byId } from './dom.js';
import * as api from './api.js';
import { frame } from './frame.js';
import { hub } from './hub.js';
import { takeOut } from './takeout.js';
import { learnArea } from './words.js';
import { witness } from './witness.js';

const TILES = [
  {
    name: 'gaps',
    href: 'gaps.html',
    count: async () => {
      const n = (await api.gaps({ limit: 1 })).count;
      return { n, urgent: n > 0 };
    },
  },
  { name: 'genealogy', href: 'genealogy.html' },
  { name: 'balance', href: 'balance.html' },
  { name: 'drill', href: 'drill.html' },
  { name: 'sample', href: 'sample.html' },
  { name: 'entries', href: 'ledger.html' },
];

await learnArea('audit');
frame('audit');
hub(byId('tiles'), TILES);
takeOut(byId('take'));
witness(byId('witness'));
