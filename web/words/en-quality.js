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
  'lot.to-rework':
    'Some of this lot may only be worked again, as said under Holds. It must not be sent or certified as it is.',
  'board.what': 'Everything that is on hold now, and what is missing before it can be decided.',
  'board.none': 'Nothing is on hold.', 'board.days.one': '{n} day', 'board.days.other': '{n} days',
  'board.hours.one': '{n} hour', 'board.hours.other': '{n} hours', 'board.by': 'by {by}, {at}',
  'board.asked-at': 'as asked at entry {seq}',
  'board.nobody': 'None of it, and nothing made of it, has been sent out.',
  'board.customers.one': '{n} customer:', 'board.customers.other': '{n} customers:',
  'board.reels.one': '({n} lot sent)', 'board.reels.other': '({n} lots sent)', 'board.reach': 'What it reached',
  'board.there': 'Still there', 'board.gone': 'Used before or in spite of it', 'board.lots': 'Lots barred',
  'board.decides': 'Who decides', 'board.nobody-named': 'nobody named', 'board.has': 'Who has metal from it',
  'board.looking': 'being looked up', 'board.what-lots.one': 'Which lot',
  'board.what-lots.other': 'Which {n} lots', 'board.sums.one': '{n} hold is open: {length}, {mass} still there.',
  'board.sums.other': '{n} holds are open: {length}, {mass} still there.', 'board.order': 'Order',
  'board.order.weight': 'Heaviest first', 'board.order.age': 'Oldest first',
  'second.not-needed':
    'One person may decide this: nothing under it failed a test, and it came of no recall.',
  'second.failed': 'Metal under it failed test {test}.', 'second.recalled': 'It came of a recall.',
  'second.waits': 'Waits for a second person.',
  'second.open':
    'A second person ought to agree; in open mode nobody can, and the release will say so.',
  'second.agreed': '{by} agreed to {what}.', 'second.part.one': 'For {n} lot of it.',
  'second.part.other': 'For {n} lots of it.', 'decide.open': 'Decide',
  'decide.as-agreed': 'Release as {by} agreed', 'agree.open': 'Agree as second person',
  'release.title': 'Decide on hold {hold}', 'agree.title': 'Agree to a decision on hold {hold}',
  'agree.what':
    'Your word stands for one release of this hold, by somebody else, as you say here and no further.',
  'release.go': 'Record the decision', 'agree.go': 'Record that I agree',
  'release.done': 'The decision on {hold} is recorded.',
  'agree.done': 'It is recorded that you agree. Somebody else may now release {hold} so.',
  'decide.what': 'What becomes of it?', 'decide.what-missing': 'Choose what becomes of it.',
  'decide.reason-missing': 'Give the reason.', 'decide.release': 'Sound: it may be used, sent and certified',
  'decide.concession': 'Usable as it is; excuses a test that failed on it',
  'decide.rework': 'Only back into the processes you name; not sent, not certified',
  'decide.regrade': 'It goes on as another grade', 'decide.scrap': 'What is left of it is scrap, at once',
  'decide.into': 'Into which processes?', 'decide.into.hint': 'None ticked: into any but cutting.',
  'decide.into-these': 'into {processes}', 'decide.grade': 'The grade it gets', 'decide.as-grade': 'as {grade}',
  'decide.lots': 'Only lots of it',
  'decide.lots.hint':
    'None ticked: all of the hold. With one lot ticked, a part of it can be given from the inner end.',
  'decide.from': 'From ({unit})', 'decide.to': 'To ({unit})',
  'decide.part-of-one': 'A part can be given of one lot only: tick that lot alone.',
  'decide.not-a-place': '“{text}” is not a place on it.', 'hold.decides': 'Who decides (if named)',
  'letters.title': 'Letters to those who have it',
  'letters.what':
    'A letter for each consignee, to be read, altered and sent by you. kinwire sends nothing.',
  'letters.list': 'Save the customers’ list (CSV)', 'letters.copy': 'Copy the letter',
  'letters.copied': 'Copied.', 'letters.select': 'Select it and copy by hand: this browser lets no page copy.',
  'letters.text':
    'To {consignee}\n\nConcerning: {what}\n\nDear Sir or Madam,\n\nwe have found reason to doubt metal that is in goods we sent you. By our records, as they stood at entry {seq} of our ledger (head {root}), the following may be affected:\n\n{lots}\n\nCertificates that speak of them: {certificates}.\n\nPlease set these goods aside now, and tell us which are still with you, which are in use and where, and to whom you passed any on. If a rope of them carries loads or people, stop using it until a person competent to decide has examined it, under the rules of the place.\n\nWe will write again when we know more. Until then you reach us at: ____________________\n\nYours faithfully,\n',
  'letters.certificates.none': 'none', 'letters.certain': 'surely affected',
  'letters.possible': 'possibly affected', 'letters.lot': '  {lot}, consignment {consignment} of {at}: {sure}',
  'board.csv.consignee': 'consignee', 'board.csv.consignment': 'consignment', 'board.csv.sent': 'sent',
  'board.csv.lot': 'lot', 'board.csv.verdict': 'affected', 'board.csv.length': 'affected_mm',
  'board.csv.mass': 'affected_g', 'board.csv.certificates': 'certificates',
};
