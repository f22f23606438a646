// The words of the quality pages in English, beside those of en.js: holds, certificates, charts, specifications.

export default {
  /* --- the hub --- */
  'page.quality': 'Quality',
  'quality.title': 'Quality',
  'quality.what': 'What is barred and who decides, what is promised on paper, and what the figures say.',
  'tile.board': 'Hold board', 'tile.board.what': 'What is on hold, for how long, how much, and who decides',
  'tile.board.count.one': 'hold is open', 'tile.board.count.other': 'holds are open',

  /* --- the hold board --- */
  'page.board': 'Hold board',
  'board.title': 'Hold board',
  'board.what': 'Everything that is on hold now.',
  'board.none': 'Nothing is on hold.',
  'board.since': 'since {at}',
  'board.left': '{length} left',
};
