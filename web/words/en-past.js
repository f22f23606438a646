// The words of pages that look back, in English.

export default {
  'past.title': 'See it as it was',
  'past.other': 'Another time',
  'past.what': 'The same question, answered as the ledger answered when it had fewer entries.',
  'past.when': 'At which entry, or on which day?',
  'past.when.hint': 'A number, or a day as in 2026-03-31, by when it was logged (UTC)',
  'past.wrong': 'Give the number of an entry, or a day as in 2026-03-31.',
  'past.go': 'Look back',
  'past.label': 'As it was',
  'past.banner': 'AS IT WAS at entry {size}. This is not what stands now.',
  'past.until': 'Logged until {at}.',
  'past.making': 'The ledger of then is being made: {done} of {of} entries.',
  'past.now': 'Back to now',
};
