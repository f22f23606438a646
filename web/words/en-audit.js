// The words of the audit pages in English, beside those of en.js. Keys are used by the pages; {name} stands for a value;
// ".one" and ".other" are plural forms.

export default {
  /* --- the hub --- */
  'audit.title': 'Audit',
  'audit.what': 'Where the record is weak, where the metal went, and what can be taken out and checked elsewhere.',
  'tile.entries': 'The entries',
  'tile.entries.what': 'Every entry as it was recorded, its proof, and the ledger verified',

  /* --- taking out --- */
  'take.title': 'Take it out of the mill',
  'take.what': 'What is saved here can be read and checked by someone who has no access to this server.',
  'take.scope': 'Of what?',
  'scope.origin': 'One thing',
  'scope.origin.what': 'a reel, a heat, a certificate, with all that belongs to it',
  'scope.month': 'A month',
  'scope.month.what': 'what happened in it, with what that rests on',
  'scope.all': 'Everything',
  'scope.all.what': 'the whole ledger; it may be long',
  'take.type': 'Type',
  'take.code': 'Code',
  'take.code.missing': 'Give the code of what is to be taken out.',
  'take.direction': 'Which way?',
  'take.direction.usual': 'as is usual for it',
  'take.direction.back': 'what it is made of',
  'take.direction.forward': 'what was made of it',
  'take.direction.kin': 'all that shares its heats',
  'take.month': 'Month, as in 2026-03',
  'take.month.missing': 'Give a month as year and month, as in {now}.',
  'take.form': 'As what?',
  'as.report': 'Report (PDF)',
  'as.report.what': 'the genealogy to read and print: ribbon, tree, runs, tests, holds, joints, the head',
  'as.pack': 'Evidence pack (zip)',
  'as.pack.what': 'report, entries, proofs, head, sums, and a script that checks them',
  'as.entries': 'Entries (NDJSON)',
  'as.entries.what': 'as they are hashed, one a line; kinwire load reads them into another ledger',
  'as.csv': 'Table (CSV)',
  'as.csv.what': 'the lots with their places, for a spreadsheet',
  'as.epcis': 'EPCIS 2.0 (JSON-LD)',
  'as.epcis.what': 'events in the open standard of supply chains, for a customer’s system',
  'as.prov': 'W3C PROV (JSON)',
  'as.prov.what': 'what was made of what, by whom, in the open standard of provenance',
  'take.go': 'Save',

  /* --- witness --- */
  'witness.title': 'Witness',
  'witness.what':
    'The head is one figure that stands for every entry so far. Keep it where the mill can’t reach it: print it, mail it, give it to the auditor. Nobody can then change what was recorded before it without being found out, here or with the program.',
  'witness.size': 'Entries',
  'witness.save': 'Save today’s head',
  'witness.check': 'Check a head that was kept',
  'witness.kept': 'The head note',
  'witness.kept.hint': 'Paste it, or type its two lines: “size” with the number, “root” with the 64 digits.',
  'witness.file': 'or the file it was saved in',
  'witness.go': 'Check it',
  'witness.unable':
    'The browser computes hashes only over https or on the server’s own machine. Use kinwire witness there.',
  'witness.no-note': 'This is no head note: a line “size” with a number and a line “root” with 64 digits are needed.',
  'witness.grew':
    'Good: the ledger of {now} entries holds the {then} entries of that head unchanged. Your browser has checked the proof. (A signature on the note is checked by kinwire witness.)',
  'witness.broken':
    'Not good: the ledger of today does not grow from that head. What was recorded before it has been changed, or the note is not of this ledger. Keep the note and this page; have it looked into by someone who does not run the server.',
  'witness.shorter':
    'Not good: the ledger has {now} entries, and the head was of {then}. Entries are missing, or the note is not of this ledger.',

  /* --- checking --- */
  'check.title': 'Check a pack without the mill',
  'check.what':
    'An evidence pack carries a page that says how, and a script in Python that shares no code with kinwire. Any byte that was changed is found, and told by name.',
  'check.how': 'unzip pack.zip -d pack && cd pack\nsha256sum -c MANIFEST.sha256\npython3 check.py\n\nkinwire verify pack.zip',
};
