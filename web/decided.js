// What became of held metal, in words.

import { learnArea, t, term } from './words.js';

await learnArea('quality');

/** What was decided or agreed to, in words: "rework into drawing, patenting". */
export const decided = (d) =>
  [
    term('disposition', d.disposition),
    d.into ? t('decide.into-these', { processes: d.into.map((p) => term('process', p)).join(', ') }) : null,
    d.grade ? t('decide.as-grade', { grade: d.grade }) : null,
  ]
    .filter(Boolean)
    .join(' ');
