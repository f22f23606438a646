// The words of the page on putting kinwire into service, in English. Keys are used by the pages; {name} stands for a
// value; a line's end begins a new paragraph.

export default {
  'page.service': 'Service',
  'service.title': 'Putting kinwire into service',
  'service.what': 'How this server stands, and what it takes to run one for a mill. The man page, kinwire(1), says the same options in full.',
  'service.standing': 'How it stands now',
  'service.steps': 'Steps',

  /* --- how it stands --- */
  'standing.about': 'What',
  'standing.state': 'State',
  'standing.now': 'Now',
  'state.good': 'In order',
  'state.look': 'Look at it',
  'state.act': 'Act now',
  'standing.writer': 'The disk confirms what is recorded',
  'standing.writer.is': 'Yes.',
  'standing.writer.failed': 'No: kinwire has to be started again, on a disk that works.',
  'standing.room': 'Free space',
  'standing.room.is': '{free} GiB free; below {floor} GiB nothing is recorded.',
  'standing.room.full': 'Only {free} GiB free, less than {floor}: nothing is recorded until there is room.',
  'standing.commit': 'Time to record',
  'standing.commit.is': '{mean} ms on average, {most} ms at worst since the start.',
  'standing.commit.none': 'Nothing was recorded since the start.',
  'standing.queue': 'Waiting to be recorded',
  'standing.queue.is': '{now} now, {most} at most; 1,024 can wait.',
  'standing.log': 'Write-ahead log',
  'standing.log.is': '{size} MiB; over 64, someone reads for very long.',
  'standing.age': 'Last entry',
  'standing.age.is': '{hours} hours ago.',
  'standing.age.minutes': '{minutes} min ago.',
  'standing.age.none': 'There is none yet.',
  'standing.private': 'Nobody reads along',
  'standing.private.is': 'This page came by TLS.',
  'standing.private.here': 'This page came from the same machine.',
  'standing.private.clear': 'Whoever is on the network can read and change what is sent.',
  'standing.certificate': 'Certificate',
  'standing.certificate.is': 'Good for another {days} days.',
  'standing.who': 'Sign-in',
  'standing.who.is': 'Who asks is known.',
  'standing.who.open': 'Open mode: everyone at this machine may do everything. Not for a mill’s own ledger.',
  'standing.tries': 'Tries to sign in',
  'standing.tries.is': '{refused} refused, {locked} locked out since the start.',
  'standing.limited': 'Asked too much',
  'standing.limited.is': '{n} requests put off since the start.',

  /* --- the steps --- */
  'step.code': 'Commands and files: {step}',
  'step.install': 'Install',
  'step.install.what':
    'A machine of its own, with a disk that keeps what it confirms: no network file system, no write cache without a battery. Install the program, its units for systemd and the user it runs as. The ledger then stands in /var/lib/kinwire.',
  'step.network': 'Let the mill reach it',
  'step.network.what':
    'By itself kinwire answers on its own machine alone. With a certificate for the name that terminals ask for, it answers the mill’s network by TLS 1.2 and 1.3. The key belongs to root and may be read by the group kinwire, by nobody else.\nSay in the unit which networks may reach it at all. When the certificate is renewed, reload: connections go on.\nWithout a certificate there is --insecure-lan, which every page shows: whoever is on the network can then read passwords and change what is sent.',
  'step.proxy': 'Or behind a proxy',
  'step.proxy.what':
    'Where a proxy does TLS already, kinwire stays on 127.0.0.1 and is told under which name it is asked. The proxy has to pass on the Host header as it came. What it says of its callers (X-Forwarded-For and the like) is not believed, so limit connections and tries for each address in the proxy.',
  'step.first': 'The first administrator',
  'step.first.what':
    'Made on the machine itself, and only while there is nobody yet. The command prints a code that is good once, for 24 hours: with it the first password is set on the sign-in page. There is no account to begin with, and no default password.\nThat person adds the others. Give two people the role, so that one can help the other in again.',
  'step.terminals': 'Terminals on the floor',
  'step.terminals.what':
    'An administrator adds the terminal and gets a code for it; typed in at the terminal, it makes that device the terminal, and only there badge and PIN are taken. A terminal that is lost or replaced is closed.\nWhen the network is away the terminal keeps what is entered and sends it later.',
  'step.backup': 'Backup',
  'step.backup.what':
    'Every hour a copy is made while kinwire runs, checked, and given a manifest that says which head it has. Put /var/backups/kinwire on another disk, and carry the copies to another place. Never copy the ledger’s file by itself while kinwire runs: part of it may still be in the log beside it.\nPasswords and PINs are not in the ledger. The file that PINs are made safe with is copied once, by hand, and kept apart from the backups.',
  'step.drill': 'Try the way back',
  'step.drill.what':
    'A backup that was never restored is a hope. Every quarter, restore the newest one elsewhere, verify it against a head that was kept outside, and look something up in it. Write down how long it took. What was recorded after the backup is sent again by whoever was not told that it is kept, with the same keys: nothing is recorded twice.',
  'step.follower': 'A second ledger',
  'step.follower.what':
    'A follower on another machine takes each entry seconds after it was recorded, checks by proof that the first ledger only grew, and keeps its heads. It is what you go on with when the first machine is lost, and a witness against rewriting. Let someone outside the office that runs the first have it.',
  'step.retention': 'How long',
  'step.retention.what':
    'Entries are never deleted: how long a mill has to show what a rope was made of is set by its contracts and by the law of the place, often ten years and more. Backups can go after a while, for each holds all that the one before it held; keep one of each month. Names of people are in the ledger as long as it is kept: tell them so.',
  'step.upgrade': 'A newer kinwire',
  'step.upgrade.what':
    'A ledger of an older kinwire is brought up at the first start; its entries and heads stay what they were. An older kinwire refuses a newer ledger, so take a backup first. Verify afterwards: the root at each size must be the one that was kept.',
  'step.alarms': 'Alarms',
  'step.alarms.what':
    'The figures are under /metrics, for a token that may read only them; whether it lives, under /healthz. Ask from another machine: one that is down tells nobody. Worth an alarm are these, written as conditions for Prometheus.\nThe journal has one line for each event: journalctl -u kinwire -p warning shows what somebody should look at.',
};
