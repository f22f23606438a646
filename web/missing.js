// What a browser is shown under an address where nothing is.

import { frame } from './frame.js';

frame('missing');
