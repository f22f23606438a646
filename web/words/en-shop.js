// The words of the shop terminal in English, beside those of en.js. Keys are used by the pages; {name} stands for a value; ".one" and ".other" are
// plural forms.

export default {
  /* --- stations --- */
  'station.goods-in': 'Goods-in', 'station.goods-in.what': 'Heats, and coils by label and mass',
  'station.cleaning': 'Cleaning', 'station.cleaning.what': 'Pickling and coating in batches',
  'station.drawing': 'Drawing', 'station.drawing.what': 'Coils welded, bobbins taken off',
  'station.heat-treating': 'Patenting and galvanising', 'station.heat-treating.what': 'Lines through the furnace and the zinc',
  'station.winding': 'Winding', 'station.winding.what': 'Rewinding and splitting',
  'station.stranding': 'Stranding', 'station.stranding.what': 'Bobbins to strands',
  'station.closing': 'Closing', 'station.closing.what': 'Strands and core to rope',
  'station.finishing': 'Finishing', 'station.finishing.what': 'Compacting and coating',
  'station.cutting': 'Cutting', 'station.cutting.what': 'Rope to the lengths of an order',
  'station.testing': 'Testing', 'station.testing.what': 'Samples by hand or from a machine’s file',
  'station.stores': 'Stores and dispatch', 'station.stores.what': 'Move and send out',
  'choose.title': 'Shop terminal', 'choose.station': 'Where does this terminal stand?', 'choose.name': 'Name of this terminal', 'choose.name-wrong': 'Give it a name: letters, digits, “.”, “/” and “-”.',
  'choose.language': 'Language', 'choose.change': 'Change station, name, units or language', 'choose.paper': 'Enter a whole run from paper',
  'units.si.full': 'Metric: m, mm, kg', 'units.us.full': 'US: ft, in, lb',

  /* --- scan box, questions --- */
  'scan.enter': 'Enter', 'scan.keys': 'Screen keyboard on or off', 'scan.no-code': '“{text}” can’t be a code.',
  'scan.goods-in': 'Scan a heat, then each coil’s label', 'scan.cleaning': 'Scan lots into the batch', 'scan.load': 'Scan a lot, or a fresh label',
  'scan.cutting': 'Scan the rope to be cut, or an order', 'scan.testing': 'Scan the lot that is tested', 'scan.stores': 'Scan lots, one or many',
  'ask.in': '{what}, in {unit}', 'ask.optional': '(if known)', 'ask.may-be-empty': 'Enter alone: not seen.', 'ask.choose-first': 'Choose one.',
  'ask.code-instead': '{code} looks like a code. A figure is asked here; Escape leaves the question.', 'ask.no-figure': '“{text}” is not a figure.',
  keypad: 'Keys', 'keypad.back': 'Take back the last key', confirm: 'Confirm', next: 'Go on', yes: 'Yes', no: 'No',
  'quantity.length': 'Length', 'quantity.mass': 'Mass',
  'wrong.code': 'This can’t be a code.', 'went-wrong': 'That did not work: {text}',
  unknown: 'Nothing is called {code}.', 'unknown.offline': '{code} is not known here, and the server can’t be asked.', 'unknown.which': 'What is it?', 'unknown.load': 'A lot: load it', 'unknown.doff': 'A fresh label: the next one made',
  'said.unchecked': '{text}. Not checked: the server can’t be asked now.', 'said.unknown': '{text}. The lot is not known here and nothing was checked.',

  /* --- stop, guard rails --- */
  'stop.word': 'STOP', 'stop.seen': 'Seen, go back',
  'bar.on-hold': 'On hold. Do not use it.', 'bar.hold-reason': '{hold}: {reason}', 'bar.already-consumed': 'Already used up.', 'bar.used-by': 'Run {run}, {machine}, line {line}',
  'bar.dispatched': 'Sent out already.', 'bar.sent': 'To {consignee}', 'bar.scrapped': 'Scrapped.', 'bar.loaded': 'It is on a machine.', 'bar.loaded-at': '{machine}, run {run}, line {line}',
  'bar.wrong-kind': 'This is a {kind}. It is not used at this station ({station}).', 'bar.code-taken': 'This code is taken.', 'bar.unknown-lot': 'There is no such lot.', 'bar.out-of-range': 'More than there is.',
  'bar.would-loop': 'It can’t be made of itself.', 'bar.not-complete': 'Something is missing for that.', 'bar.bad-order': 'Not in this order.', 'bar.key-reused': 'This key was used for another entry.', 'bar.other': 'The ledger does not take this.',
  'finding.length-ratio': 'The length does not fit the dies or the lay', 'finding.mass-balance': 'The masses do not balance', 'finding.wrong-grade': 'Wrong grade for the order', 'finding.wrong-diameter': 'Wrong diameter for the order',
  'finding.heats-mixed': 'The order allows one heat only', 'finding.wrong-machine': 'Meant for another machine', 'finding.other': 'Look at this first',
  'finding.go-on': 'To go on, give the reason. It is kept with the entry.', 'finding.reason': 'Reason for going on',
  'reason.measured': 'Measured again, it is right', 'reason.foreman': 'The foreman has decided', 'reason.counter': 'The counter was wrong', 'reason.trial': 'A trial run',

  /* --- queue --- */
  'queue.waiting.one': '{n} waits', 'queue.waiting.other': '{n} wait', 'queue.back.one': '{n} came back', 'queue.back.other': '{n} came back',
  'queue.title': 'Waiting to be sent: {n}. Came back: {back}.', 'link.here': 'Server', 'link.away': 'No server: goes on here', 'link.stopped': 'Sign in: the server takes nothing from here',
  'back.title': 'Came back from the server', 'back.waiting': 'Waiting to be sent, in this order', 'back.none': 'Everything recorded here has been taken by the server.',
  'back.right': 'Put it right', 'back.send': 'Send it again', 'back.drop': 'Drop it', 'back.why': 'Why it is dropped', 'back.drop-reason': 'Recorded by mistake',
  'back.behind.one': '{n} entry of the same run waits for this one.', 'back.behind.other': '{n} entries of the same run wait for this one.',
  undo: 'Undo', 'undo.title': 'The last step', 'undo.did': 'Undone: {what}', 'undo.reason': 'Undone at the terminal', 'undo.waits': '(waits to be sent)',
  'did.other': '{kind} recorded', 'did.open': 'Run {run} begun on {machine}', 'did.load': '{lot} loaded on line {line}', 'did.change': '{lot} joined on line {line} at {at}', 'did.change-unseen': '{lot} joined on line {line}, place not seen',
  'did.doff': '{lot} taken off, {length}', 'did.scrap': '{length} scrapped: {reason}', 'did.close': 'Run {run} closed', 'did.heat': 'Heat {heat} recorded', 'did.receive': '{lot} received, {figure}',
  'did.batch.one': 'Batch {batch}: {n} lot', 'did.batch.other': 'Batch {batch}: {n} lots', 'did.cut.one': '{lot} cut to {n} length', 'did.cut.other': '{lot} cut to {n} lengths', 'did.test': 'Test {test} of {lot}: {verdict}',
  'did.move.one': '{n} lot moved to {location}', 'did.move.other': '{n} lots moved to {location}', 'did.dispatch.one': '{n} lot sent to {consignee}', 'did.dispatch.other': '{n} lots sent to {consignee}',
  'did.mapping': 'Columns of {instrument} kept', 'did.row': 'Test {test} of {lot}',

  /* --- machines and runs --- */
  machines: 'Machines of this station', 'machine.which': 'Which machine?', 'machine.type': 'Scan or type the machine', 'machine.now': '{machine} is the machine in front.', 'machine.idle': 'stands', 'machine.other': 'Another machine', 'machine.none': 'No machine chosen',
  'step.open': 'Begin a run', 'step.doff': 'Take off', 'step.scrap': 'Scrap', 'step.close': 'Close the run',
  'open.title': 'Begin a run on {machine}', 'open.for': 'For order {order}: {what}', 'open.go': 'Begin', 'open.lines': 'Lines', 'open.core': 'With a core', 'open.out.diameter': 'Diameter made', 'open.out.lay': 'Diameter made',
  'open.offer': 'No run is under way on {machine}', 'open.offer.what': '{lot} is to be loaded.', 'open.split': 'Share it out to several',
  'run.made': 'made so far', 'run.made-of': 'of about {whole} that is loaded', 'run.order': 'order {order}', 'run.out': 'to {diameter}', 'run.since': 'since {at}', 'run.lines': 'Lines', 'run.packages.one': '{n} made', 'run.packages.other': '{n} made',
  'line.free': 'free', 'line.behind': '(+{n})', 'line.waits': '(waits)', 'line.rest': '{rest} left', 'line.over': '{over} over',
  'next.open': 'Begin a run, or scan the first lot.', 'next.load': 'Scan the lot that goes on.', 'next.load-line': 'Line {line} is next to load; {n} to go. Scan a lot.', 'next.change': 'Line {line} runs out next, in about {rest}.',
  'next.doff': 'Take off the next {kind}, or scan a lot to be welded on.', 'next.over': 'More has been made than is loaded, by {over}. Scan the lot that went on, or close the run.',
  'change.at': '{lot} on line {line}: counter when the joint passed', 'change.what': 'Behind {old} on line {line}. The counter stands at about {made}.', 'change.rest': 'It runs out in about {rest}.', 'change.lines': 'Another line', 'change.echo': 'joint at {at}', 'change.before': 'The joint before it passed at {at}.',
  'doff.title-length': '{lot}: length', 'doff.title': '{lot}: length or mass', 'doff.what': 'Next {kind}. Made so far: {made}.', 'doff.same': 'As the last: {length}',
  'size.mass': '{mass} is {length} at {diameter}', 'size.length': '{length} is {mass} at {diameter}', 'size.none': 'It must be more than nothing.',
  'scrap.title': 'Length scrapped', 'scrap.word': 'scrap', 'scrap.break': 'Break', 'scrap.start': 'Start-up', 'scrap.size': 'Off size', 'scrap.surface': 'Surface', 'scrap.end': 'End of the length',
  'close.title': 'What is left on the lines of {run}?', 'close.left': 'Left of {lot}', 'close.line': 'Line {line}, {lot}', 'close.what': '{run} has made {made}. What is left goes back to stock.', 'close.go': 'Close the run',
  labels: 'Labels', 'labels.one': '{n} label', 'labels.other': '{n} labels', 'labels.size': 'Size of the labels', 'labels.100x60': '100 × 60', 'labels.100x150': '100 × 150', 'labels.62': '62 roll',

  /* --- goods-in --- */
  'goods.which': 'Heat', 'goods.heat-new': 'Heat {heat} is new', 'goods.heat-known': 'Heat {heat}, {grade}', 'goods.unasked': 'The server can’t be asked whether this heat is known. If it is, its entry will come back and can be dropped.', 'goods.heat-go': 'Set this heat', 'goods.order': 'Purchase order',
  'goods.now': 'Heat {heat}', 'goods.none': 'No heat set', 'goods.first': 'Scan or type the heat.', 'goods.next': 'Scan the next coil’s label.', 'goods.set': 'Set the heat', 'goods.other': 'Another heat', 'goods.measure': 'Measure diameters',
  'goods.mass': '{lot}: mass', 'goods.of': 'Heat {heat}, {grade}, {diameter}', 'goods.measured': '{lot}: diameters', 'goods.measured.what': 'Two or more, apart by spaces; or none.', 'goods.coils.one': '{n} coil of this heat', 'goods.coils.other': '{n} coils of this heat', 'goods.here-already': 'It is the label of a {kind} already.',

  /* --- cleaning, stores --- */
  'list.added': '{lot} is on the list ({n})', 'list.twice': '{lot} is on the list already.', 'list.drop': 'Take {lot} off the list', 'list.clear': 'Clear the list',
  'batch.first': 'Scan the lots that go in.', 'batch.more': 'Scan more, or record the batch.', 'batch.record.one': 'Record: {n} lot', 'batch.record.other': 'Record: {n} lots', 'batch.title.one': '{n} lot through {machine}', 'batch.title.other': '{n} lots through {machine}', 'batch.go': 'Record',
  'stores.list.one': '{n} lot on the list', 'stores.list.other': '{n} lots on the list', 'stores.first': 'Scan what is moved or sent.', 'stores.more': 'Scan more, or say where it goes.', 'stores.move-to': 'Move to', 'stores.send': 'Send out',
  'stores.move.one': 'Move {n} lot', 'stores.move.other': 'Move {n} lots', 'stores.move-go': 'Move', 'stores.dispatch.one': 'Send out {n} lot', 'stores.dispatch.other': 'Send out {n} lots', 'stores.dispatch-go': 'Send out',
  'stores.held': 'A lot on hold can be moved. It can’t be sent.', 'stores.held-word': 'on hold: move only',

  /* --- cutting --- */
  'cut.first': 'Scan the lot to be cut.', 'cut.title': 'Cut {lot}', 'cut.lengths': 'Lengths to cut off {lot}', 'cut.more': '{left} left. More lengths, or Enter to cut', 'cut.add': 'Put on the list', 'cut.add-or-cut': 'Add, or cut',
  'cut.echo.one': '{n} length, {sum}', 'cut.echo.other': '{n} lengths, {sum} together', 'cut.too-much': '{asked} can’t be cut: {left} is left.', 'cut.scrap-first': 'Scrap an end', 'cut.go.one': 'Cut {n} length', 'cut.go.other': 'Cut {n} lengths', 'cut.away': 'Put the list away',
  'cut.picture': '{lot} with the lengths on the list; {left} left', 'cut.inner': 'inner end', 'cut.outer': 'outer end, comes off first', 'cut.left': '{left} left', 'cut.metres': 'from {from} to {to}', 'cut.code': 'Code of piece {n}', 'cut.last': 'Cut last',
  'cut.order.one': 'Order {order}: {n} length. Scan the rope.', 'cut.order.other': 'Order {order}: {n} lengths. Scan the rope.', 'cut.unknown-offline': '{code} is not known here, and the server can’t be asked; what is left of it can’t be drawn.',

  /* --- testing --- */
  'test.scan': 'By hand', 'test.first': 'Scan the lot that is tested.', 'test.title': 'Test of {lot}', 'test.go': 'Record the test', 'test.held': 'This lot is on hold. It may be tested.', 'test.nothing': 'Give at least one result.',
  'file.title': 'From a test machine', 'file.drop': 'Drop the machine’s file (CSV) here', 'file.choose': 'Choose a file', 'file.empty': '{name} holds no rows.', 'file.insecure': 'Files are read only over https or on the server’s own machine.',
  'file.instrument.one': '{name}: {n} row. Which machine?', 'file.instrument.other': '{name}: {n} rows. Which machine?', 'file.mapping': 'What are the columns of {instrument}?', 'file.mapping.what': 'Asked once for this machine, and kept. Name and unit for each column, as in “tensile_kpa MPa”; empty: not used.',
  'file.keep': 'Keep, and take the rows', 'file.no-target': '“{text}” is none of these.', 'file.no-lot': 'One column must be the lot.', 'file.rows': 'Rows of the file', 'file.wrong': '{column}: “{text}” can’t be read', 'file.entry': 'entry {seq}', 'file.again-dropped': 'Sent anew from the file',
  'file.waiting': 'waits', 'file.taken': 'taken', 'file.again': 'repeated', 'file.refused': 'refused', 'file.n.waiting': '{n} waiting', 'file.n.taken': '{n} taken', 'file.n.again': '{n} repeated', 'file.n.refused': '{n} refused',
  'entry.order': 'Order', 'entry.open': 'Run begun', 'entry.load': 'Load', 'entry.doff': 'Package', 'entry.close': 'Run closed',
  'field.reduction_ppm': 'Reduction of area (ppm)',
};
