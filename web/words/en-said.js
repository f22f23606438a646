// What the ledger says, in English: of every finding and every refusal the short words and, with its values, the
// sentence. A finding's are under its code, a refusal's under the last part of its problem type; of several sentences each
// is under its own name.

export default {
  /* --- findings --- */
  'finding.other': 'Look at this first',
  'finding.accepted': '{text} Accepted: {reason}',
  'finding.length-ratio': 'The length does not fit the dies or the lay',
  'finding.length-ratio.area':
    '{in_mm} went in; by its diameter it gives {implied_mm} at {diameter_um}, but {made_mm} is recorded ({off_ppm}, tolerance {tolerance_ppm}).',
  'finding.length-ratio.same':
    '{in_mm} went in and {made_mm} is recorded as having come out ({off_ppm}, tolerance {tolerance_ppm}).',
  'finding.length-ratio.less':
    'Line {line} took {in_mm} for {made_mm} of output: what is twisted is never shorter than what it is twisted into.',
  'finding.length-ratio.lay':
    'Line {line} took {in_mm} for {made_mm} of output: that is more than any usual lay takes up.',
  'finding.mass-balance': 'The masses do not balance',
  'finding.mass-balance.says':
    '{in_g} went in and {out_g} came out, scrap by its length ({off_ppm}, tolerance {tolerance_ppm}).',
  'finding.wrong-grade': 'Wrong grade for the order',
  'finding.wrong-grade.says': '{lot} is of grade {grade}; order {order} asks for {asked}.',
  'finding.wrong-diameter': 'Wrong diameter for the order',
  'finding.wrong-diameter.says':
    'Package {package} is {made_um}; order {order} asks for {asked_um}, {most_um} more or less.',
  'finding.heats-mixed': 'The order allows one heat only',
  'finding.heats-mixed.says': '{heats} heats are in it; order {order} allows one.',
  'finding.wrong-machine': 'Meant for another machine',
  'finding.wrong-machine.says': 'It is on {machine}; order {order} is for {asked}.',
  'finding.one-person': 'Released by one person alone',
  'finding.one-person.failed': 'It failed test {test}, and one person released it alone.',
  'finding.one-person.recalled': 'It was recalled, and one person released it alone.',
  'finding.on-hold': 'Recorded on metal on hold',
  'finding.on-hold.says': 'Recorded on metal on hold; what it made is on the same hold: {reason}',
  'finding.length-mass': 'Length and mass do not fit together',
  'finding.length-mass.says':
    '{length_mm} at {diameter_um} weighs {implied_g} at 7850 kg/m³, but {mass_g} is recorded.',
  'finding.verdict-differs': 'The verdict is not that of the limits',
  'finding.verdict-differs.fails':
    'Recorded as {said}; by {spec} version {version} it fails: {property} {value} is {beyond} beyond the limit.',
  'finding.verdict-differs.passes':
    'Recorded as {said}; by {spec} version {version} it passes: no limit is passed.',
  'finding.out-of-calibration': 'Measured outside the calibration',
  'finding.out-of-calibration.from':
    'The calibration of {instrument} holds from {bound_at}; the test was made at {made_at}.',
  'finding.out-of-calibration.until':
    'The calibration of {instrument} holds until {bound_at}; the test was made at {made_at}.',

  /* --- who has taken a length --- */
  'claim.run': 'run {code}', 'claim.test': 'the sample of test {code}',
  'claim.consignment': 'consignment {code}, which has left', 'claim.scrap': 'scrap (entry {seq})',

  /* --- refusals: the word, and the sentences --- */
  'bar.other': 'The ledger does not take this.',
  'bar.unfit': 'Entry {seq} would no longer fit: {text}',
  'bar.in-english': '{words} ({text})',
  'bar.to-rework': 'To be worked again first. Do not use it here.',
  'bar.to-rework.fed':
    '{lot} is to be worked again from {from_mm} to {to_mm} (hold {hold}: {into}) and can’t be fed into {process}: {reason}',
  'bar.to-rework.sent': '{lot} is to be worked again from {from_mm} to {to_mm} (hold {hold}: {into}) and can’t be sent: {reason}',
  'bar.to-rework.certified':
    '{lot} is to be worked again from {from_mm} to {to_mm} (hold {hold}: {into}) and can’t be certified: {reason}',
  'said.any-but-cut': 'any process but cutting',
  'bar.not-agreed': 'A second person has to agree first.',
  'bar.not-agreed.failed':
    'It failed test {test}, so that somebody else has to agree before hold {hold} is released. They find it on the hold board.',
  'bar.not-agreed.recalled':
    'It was recalled, so that somebody else has to agree before hold {hold} is released. They find it on the hold board.',
  'bar.on-hold': 'On hold. Do not use it.',
  'bar.on-hold.fed': '{lot} is on hold {hold} from {from_mm} to {to_mm} and can’t be fed: {reason}',
  'bar.on-hold.sent': '{lot} is on hold {hold} from {from_mm} to {to_mm} and can’t be sent: {reason}',
  'bar.on-hold.certified': '{lot} is on hold {hold} from {from_mm} to {to_mm} and can’t be certified: {reason}',
  'bar.already-consumed': 'Already used up.',
  'bar.already-consumed.taken':
    '{from_mm} to {to_mm} of {lot} has been taken by {by} already; {asked_from_mm} to {asked_to_mm} can’t be taken.',
  'bar.already-consumed.nothing-left': 'Nothing is left of {lot}; it was taken by {by}.',
  'bar.already-consumed.steps': 'The run has {steps} steps; void them first, the last of them first.',
  'bar.code-taken': 'This code is taken.',
  'bar.code-taken.says': '{code} is in use already (entry {seq}). A code is never used twice.',
  'bar.out-of-range': 'More than there is.',
  'bar.out-of-range.too-much': '{asked_mm} is asked of {lot}; only {left_mm} is left.',
  'bar.out-of-range.interval': '{lot} is {length_mm} long; {from_mm} to {to_mm} is not a length of it.',
  'bar.out-of-range.place': '{lot} is {length_mm} long; {at_mm} is not a place on it.',
  'bar.out-of-range.sample': '{lot} is {length_mm} long; a sample of {sample_mm} can’t come from it.',
  'bar.out-of-range.left-on-line': '{left_mm} can’t be left on line {line}: the lot that is on it had {had_mm}.',
  'bar.out-of-range.no-length': '{mass_g} at {diameter_um} gives no length that a lot can have.',
  'bar.would-loop': 'It can’t be made of itself.',
  'bar.would-loop.made-here': '{lot} is made in this run; it can’t go into it.',
  'bar.not-complete': 'Something is missing for that.',
  'bar.not-complete.nothing-made': 'Nothing was taken off in run {run}; void it if it did not run.',
  'bar.not-complete.line-empty': 'Nothing was loaded on line {line} of run {run}.',
  'bar.not-open': 'It is no longer open.',
  'bar.not-open.closed':
    'Run {run} was closed; a mistake in it is put right by a correction, or the entry is made void.',
  'bar.not-open.whole': 'Run {run} was logged whole.',
  'bar.not-open.void': 'Entry {seq} is void already.',
  'bar.bad-order': 'Not in this order.',
  'bar.bad-order.join': 'The joint was seen at {seen_mm}, not after the one before it at {before_mm}.',
  'bar.bad-order.beyond-end': 'The joint was seen at {seen_mm}, but the run is only {made_mm} long.',
  'bar.bad-value': 'This can’t be right.',
  'bar.bad-value.no-line': 'Run {run} has no line {line}.',
  'bar.bad-value.first-on-line': 'It is the first lot on its line; there is no joint before it.',
  'bar.unknown-lot': 'There is no such lot.', 'bar.unknown-lot.says': 'There is no lot {code} in the ledger.',
  'bar.unknown-heat': 'There is no such heat.', 'bar.unknown-heat.says': 'There is no heat {code} in the ledger.',
  'bar.unknown-supply': 'There is no such supply.',
  'bar.unknown-supply.says': 'There is no supply {code} in the ledger.',
  'bar.unknown-batch': 'There is no such batch.', 'bar.unknown-batch.says': 'There is no batch {code} in the ledger.',
  'bar.unknown-run': 'There is no such run.', 'bar.unknown-run.says': 'There is no run {code} in the ledger.',
  'bar.unknown-weld': 'There is no such weld.', 'bar.unknown-weld.says': 'There is no weld {code} in the ledger.',
  'bar.unknown-test': 'There is no such test.', 'bar.unknown-test.says': 'There is no test {code} in the ledger.',
  'bar.unknown-hold': 'There is no such hold.', 'bar.unknown-hold.says': 'There is no hold {code} in the ledger.',
  'bar.unknown-certificate': 'There is no such certificate.',
  'bar.unknown-certificate.says': 'There is no certificate {code} in the ledger.',
  'bar.unknown-consignment': 'There is no such consignment.',
  'bar.unknown-consignment.says': 'There is no consignment {code} in the ledger.',
  'bar.unknown-order': 'There is no such order.', 'bar.unknown-order.says': 'There is no order {code} in the ledger.',
  'bar.unknown-entry': 'There is no such entry.',
  'bar.key-reused': 'This key was used for another entry.',
  'bar.not-json': 'The server could not read what was sent.', 'bar.not-entry': 'This is not an entry.',
  'bar.bad-request': 'The request can’t be read.', 'bar.no-session': 'Sign in first.',
  'bar.not-allowed': 'Your role does not allow this.', 'bar.not-found': 'There is no such thing here.',
  'bar.bad-method': 'This can’t be done here.', 'bar.too-large': 'That is too much at once.',
  'bar.wrong-media': 'That kind of content is not taken here.', 'bar.missing': 'Something is missing.',
  'bar.unknown-member': 'There is no such field.', 'bar.bad-type': 'Another type of value belongs here.',
  'bar.bad-code': 'This can’t be a code.', 'bar.bad-time': 'This can’t be a time.',
  'bar.too-many': 'Too many at once. Wait a moment.', 'bar.internal': 'Something went wrong at the server.',
  'bar.busy': 'The server is busy. Try again in a moment.', 'bar.disk-full': 'There is no room left on the server’s disk.',
  'bar.password-again': 'Give your password once more.',
  'bar.locked': 'Locked after too many wrong tries. Wait a while.',
  'bar.not-known': 'That is not right: look at the name and at what goes with it.',
  'bar.last-administrator': 'Somebody has to be administrator: this is the last one.',
  'bar.not-mine': 'Not made by whoever signed in.',
  'bar.not-mine.says': 'It was made while nobody could be checked, and whoever signed in then says that it is not theirs.',
};
