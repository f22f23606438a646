// The entry queue of a terminal: what was recorded here and has not been taken by the server yet.
//
// An entry is on the terminal's disk, key and all, before it is first sent; it is taken off only when the server has it
// (201, or 200 when it had it already). So a lost answer, a reload, a crash or a cut of power costs nothing and doubles
// nothing. Entries go in the order in which they were made, one at a time, and from one tab at a time. What the server
// refuses comes back with the reason, to be put right (under a new key: it is another entry) or dropped. Entries of the
// same run wait behind one that came back, for they build on it; others go on.

import { newKey, Problem, terminal } from './api.js';

const NAME = 'kinwire-terminal';
const KEPT_DONE = 200;
const WAITS = [1000, 2000, 4000, 8000, 15000]; /* ms between tries while the server is away */

let opened = null;
const listeners = new Set();
const channel = 'BroadcastChannel' in window ? new BroadcastChannel('kinwire-queue') : null;

/** Away: the server did not answer the last time. */
export const link = { away: !navigator.onLine };

/**
 * Whose entries are made here now (`by`, a person's code; `claimed`: the name they gave while the server could not be
 * asked), and whose session the server has with this page (`sends`), with the word that it wants with each (`csrf`). In
 * open mode nobody has a name and everything goes. Nothing goes before this is known.
 */
export const who = { known: false, open: false, by: null, name: null, claimed: null, sends: null, csrf: null, how: null, roles: [] };

export function setWho(next) {
  Object.assign(who, next);
  tell({ who: true });
  wake();
}

function database() {
  opened ||= new Promise((resolve, reject) => {
    const ask = indexedDB.open(NAME, 1);
    ask.onupgradeneeded = () => {
      const db = ask.result;
      db.createObjectStore('waiting', { keyPath: 'n', autoIncrement: true }).createIndex('key', 'key', {
        unique: true,
      });
      db.createObjectStore('done', { keyPath: 'key' }).createIndex('made', 'made');
    };
    ask.onsuccess = () => resolve(ask.result);
    ask.onerror = () => reject(ask.error);
  });
  return opened;
}

/**
 * One transaction, on disk before it counts as done. `work(stores)` returns a request, or a function that gives the
 * result at the end.
 */
async function within(names, mode, work) {
  const db = await database();
  return new Promise((resolve, reject) => {
    const tx = db.transaction(names, mode, mode === 'readwrite' ? { durability: 'strict' } : {});
    const stores = Object.fromEntries(names.map((name) => [name, tx.objectStore(name)]));
    const result = work(stores);
    tx.oncomplete = () => resolve(typeof result === 'function' ? result() : result?.result);
    tx.onerror = () => reject(tx.error);
    tx.onabort = () => reject(tx.error);
  });
}

function tell(what = {}) {
  for (const hear of listeners) hear(what);
}

function changed(what) {
  tell(what);
  channel?.postMessage(what || {});
}

channel?.addEventListener('message', (event) => {
  tell(event.data);
  if (event.data.added) wake();
});

/**
 * Be told of every change: an entry added, sent, come back, dropped; the server gone or back. Returns the way to stop.
 */
export function onChange(hear) {
  listeners.add(hear);
  return () => listeners.delete(hear);
}

/** All that is not taken yet, oldest first: {n, key, kind, at, body, thread, made, tries, problem}. */
export const waiting = () => within(['waiting'], 'readonly', (s) => s.waiting.getAll());

/** What this terminal has had taken lately, oldest first: the entries with seq and the findings. */
export async function done(since = 0) {
  return within(['done'], 'readonly', (s) => s.done.index('made').getAll(IDBKeyRange.lowerBound(since)));
}

/** Both at one moment, so that none is missed on its way from the one to the other. */
export const both = (since) =>
  within(['waiting', 'done'], 'readonly', (s) => {
    const wait = s.waiting.getAll();
    const taken = s.done.index('made').getAll(IDBKeyRange.lowerBound(since));
    return () => ({ waiting: wait.result, done: taken.result });
  });

const stamp = (ms) => new Date(ms).toISOString().replace(/\.\d+Z$/, 'Z');

/**
 * Record entries, in order: on disk all together or not at all, then sent. One is { kind, body, [at], [key], [thread]
 * }; `at: null` leaves
 * the time to the server; thread: the run (or list) in whose order it belongs. Returns them with their keys.
 */
export async function add(...entries) {
  const made = Date.now();
  const rows = entries.map((e, i) => {
    const row = {
      key: e.key || newKey(),
      kind: e.kind,
      body: e.body,
      made: made + i / 1000,
      thread: e.thread || null,
      say: e.say || null,
      terminal: terminal(),
      by: who.open ? null : who.by,
      claimed: who.open ? null : who.claimed,
      tries: 0,
      problem: null,
    };
    if (e.at !== null) row.at = e.at || stamp(made);
    return row;
  });
  await within(['waiting'], 'readwrite', (s) => {
    for (const row of rows) s.waiting.add(row);
  });
  changed({ added: rows.map((r) => r.key) });
  wake();
  return rows;
}

/** Put right what came back: it goes again in its place, as another entry with a key of its own. */
export async function putRight(n, body) {
  const key = newKey();
  await within(['waiting'], 'readwrite', (s) => {
    const ask = s.waiting.get(n);
    ask.onsuccess = () => {
      if (ask.result?.problem)
        s.waiting.put({ ...ask.result, key, body, problem: null, tries: 0, replaces: ask.result.key });
    };
  });
  changed({ added: [key] });
  wake();
  return key;
}

/**
 * Drop what came back, with the reason; it is kept among what is done, as dropped. An undo that waits for it goes with
 * it, and so does the word of who took it over.
 */
export async function drop(n, reason) {
  await within(['waiting', 'done'], 'readwrite', (s) => {
    const ask = s.waiting.get(n);
    ask.onsuccess = () => {
      if (!ask.result?.problem) return;
      s.waiting.delete(n);
      s.done.put({ ...ask.result, dropped: reason });
      const all = s.waiting.getAll();
      all.onsuccess = () => {
        for (const row of all.result)
          if ((row.kind === 'void' && row.body.entry === ask.result.key) || row.of === ask.result.key)
            s.waiting.delete(row.n);
      };
    };
  });
  changed({});
  wake();
}

/* --- whose it is ------------------------------------------------------------------------------------ */

/* What one person made never goes as another's: it waits for that person's session. */
const isMine = (row) => who.open || (row.by !== null && row.by !== undefined && row.by === who.sends);

/** What waits here under one of these names, or under none, and has not been said to be anybody's yet. */
export const unclaimed = async (names) =>
  (await waiting()).filter((r) => !r.problem && !r.by && (!r.claimed || names.includes(r.claimed)));

async function settleOwner(ns, change) {
  await within(['waiting'], 'readwrite', (s) => {
    for (const n of ns) {
      const ask = s.waiting.get(n);
      ask.onsuccess = () => {
        if (ask.result && !ask.result.by) s.waiting.put({ ...ask.result, ...change });
      };
    }
  });
  changed({ added: [] });
  wake();
}

/** They are those of whoever is signed in: so they say. */
export const claim = (ns) => settleOwner(ns, { by: who.sends });

/** They are not: they come back, to be put right under the right name or dropped. */
export const disown = (ns, text) => settleOwner(ns, { by: who.sends, problem: { slug: 'not-mine', text, values: {} } });

/** Whether anything waits that this session can send. */
export const mayGo = async () => next(await waiting()) !== null;

/** Whose it is: a person's code, the name that was given unchecked, or ''. */
export const ownerOf = (row) => row.by || row.claimed || '';

/** What waits for somebody else to sign in. */
export const ofOthers = async () => (await waiting()).filter((row) => !row.problem && !isMine(row));

/** How many entries wait for somebody else to sign in, by name. */
export async function waitForOthers() {
  const held = new Map();
  for (const row of await ofOthers()) held.set(ownerOf(row), (held.get(ownerOf(row)) || 0) + 1);
  return held;
}

const noteOf = (body, thread, of) => ({
  key: newKey(),
  kind: 'note',
  body,
  made: Date.now(),
  thread,
  of,
  say: { text: body.about },
  terminal: terminal(),
  by: who.sends,
  claimed: null,
  tries: 0,
  problem: null,
});

/**
 * What others left here goes as that of whoever is signed in, who answers for it. Each is followed by a note, by
 * `say(row)` its body, that says who made it; the time stays when it was made.
 */
export async function takeOver(rows, say) {
  await within(['waiting'], 'readwrite', (s) => {
    for (const { n } of rows) {
      const ask = s.waiting.get(n);
      ask.onsuccess = () => {
        const row = ask.result;
        if (!row || row.problem || isMine(row)) return; /* its maker has signed in meanwhile */
        const thread = row.thread || `over:${row.key}`;
        s.waiting.put({ ...row, thread, by: who.sends, claimed: null, madeBy: ownerOf(row) });
        s.waiting.add(noteOf(say(row), thread, row.key));
      };
    }
  });
  changed({ added: [] });
  wake();
}

/** What others left here is dropped; a note, the body given, says so in the ledger. */
export async function discard(rows, reason, body) {
  await within(['waiting', 'done'], 'readwrite', (s) => {
    for (const { n } of rows) {
      const ask = s.waiting.get(n);
      ask.onsuccess = () => {
        if (!ask.result || ask.result.problem || isMine(ask.result)) return;
        s.waiting.delete(n);
        s.done.put({ ...ask.result, dropped: reason });
      };
    }
    s.waiting.add(noteOf(body, null, null));
  });
  changed({ added: [] });
  wake();
}

/* --- sending ------------------------------------------------------------------------------------ */

/* Whether the session is another one than this page knew of: then it is asked anew whose entries may go. */
async function someoneElse() {
  if (who.open) return false;
  try {
    const answer = await fetch('/api/me', { headers: { Accept: 'application/json' }, signal: AbortSignal.timeout(6000) });
    if (answer.status === 401) {
      setWho({ sends: null, csrf: null });
      tell({ ended: true });
      return true;
    }
    const me = await answer.json();
    if (!answer.ok || me.csrf === who.csrf) return false;
    setWho({ sends: me.by, csrf: me.csrf });
    return true;
  } catch {
    return false;
  }
}

async function post(row) {
  const entry = { key: row.key, kind: row.kind, body: row.body };
  if (row.at) entry.at = row.at;
  const sentAs = who.csrf;
  let answer;
  try {
    answer = await fetch('/api/entries', {
      method: 'POST',
      headers: {
        'Content-Type': 'application/json',
        Accept: 'application/json',
        'Kinwire-Terminal': row.terminal || terminal(),
        ...(who.csrf ? { 'Kinwire-Csrf': who.csrf } : {}),
      },
      body: JSON.stringify(entry),
      signal: AbortSignal.timeout(20000),
    });
  } catch {
    return { away: true };
  }
  let said = null;
  try {
    said = await answer.json();
  } catch {
    /* Cut off in the middle: what was answered is not known, so it is asked again. */
    return { away: true };
  }
  if (answer.ok) return { receipt: said, again: answer.status === 200 };
  /* whoever signed in while it was on its way changed what it was sent with: that says nothing of the entry, nor of them */
  if ((answer.status === 401 || answer.status === 403) && who.csrf !== sentAs) return { again: true };
  if (answer.status === 401) return { ended: true };
  if (answer.status === 403 && ((await someoneElse()) || who.csrf !== sentAs)) return { again: true };
  if (answer.status >= 500 || answer.status === 408 || answer.status === 429) return { away: true };
  const problem = new Problem(answer.status, said);
  return { problem: { status: answer.status, slug: problem.slug, text: problem.message, pointer: problem.pointer, values: problem.values } };
}

/** Whether `row` builds on `before`, so that it waits behind it. */
export const buildsOn = (row, before) =>
  row.of === before.key ||
  (row.kind === 'void' && row.body.entry === before.key) ||
  /* the coils of a heat don't build on each other: some go though others wait or came back */
  (before.kind !== 'receive' && Boolean(row.thread) && row.thread === before.thread && row.n > before.n);

/** The oldest entry that may go: none that came back or is another's, and none that builds on such a one. */
function next(rows) {
  if (!who.known) return null;
  const held = [];
  for (const row of rows) {
    if (row.problem || !isMine(row) || held.some((before) => buildsOn(row, before))) held.push(row);
    else return row;
  }
  return null;
}

async function settle(row, answer) {
  const kept = { ...row, tries: row.tries + 1 };
  await within(['waiting', 'done'], 'readwrite', (s) => {
    const now = s.waiting.get(row.n);
    now.onsuccess = () => {
      if (now.result?.key !== row.key) return; /* another tab has settled it */
      if (answer.receipt) {
        s.waiting.delete(row.n);
        s.done.put({
          ...kept,
          taken: Date.now(),
          seq: answer.receipt.seq,
          findings: answer.receipt.findings || [],
          stored: answer.receipt.body,
          again: answer.again,
        });
      } else s.waiting.put({ ...kept, problem: answer.problem });
    };
  });
  changed({ settled: row.key, receipt: answer.receipt || null, again: answer.again, problem: answer.problem || null });
}

async function trim() {
  await within(['done'], 'readwrite', (s) => {
    const ask = s.done.index('made').getAllKeys();
    ask.onsuccess = () => {
      for (const key of ask.result.slice(0, -KEPT_DONE)) s.done.delete(key);
    };
  });
}

let ring = null; /* wakes the sender from its sleep */
let running = false;
let again = false;

const sleep = (ms) =>
  new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    ring = () => {
      clearTimeout(timer);
      resolve();
    };
  });

function setLink(away) {
  if (link.away === away) return;
  link.away = away;
  tell({ link: true });
}

/** Say what a request of another part of the page has found: whether the server answers. */
export function heard(answers) {
  if (answers && link.away) {
    setLink(false);
    wake();
  } else if (!answers) setLink(true);
}

async function drain() {
  for (let fails = 0; ;) {
    const row = next(await waiting());
    if (!row) break;
    const answer = await post(row);
    if (answer.ended) {
      setLink(false);
      setWho({ sends: null, csrf: null });
      tell({ ended: true });
    } else if (answer.again && !answer.receipt) fails = 0;
    else if (answer.away) {
      setLink(true);
      await sleep(WAITS[Math.min(fails, WAITS.length - 1)]);
      fails += 1;
    } else {
      fails = 0;
      setLink(false);
      await settle(row, answer);
    }
  }
  await trim();
}

/* Where the browser has locks (https, or the machine itself), one tab sends. Elsewhere two might send the same
   entry, which its key makes harmless. */
const alone = (work) => (navigator.locks ? navigator.locks.request('kinwire-queue', work) : work());

/** Send what waits, now. */
export async function wake() {
  ring?.();
  again = true;
  if (running) return;
  running = true;
  while (again) {
    again = false;
    await alone(drain);
  }
  running = false;
}

/** Resolve once the entries have been settled (or `ms` have passed): whether nothing waits any more that may go. */
export async function settled(ms) {
  const until = Date.now() + ms;
  for (;;) {
    if (!next(await waiting())) return true;
    const left = until - Date.now();
    if (left <= 0 || link.away) return false;
    await new Promise((resolve) => {
      const stop = onChange(() => finish());
      const timer = setTimeout(() => finish(), left);
      function finish() {
        stop();
        clearTimeout(timer);
        resolve();
      }
    });
  }
}

/** Begin: send what an earlier page left, and ask the browser to keep the store. */
export function begin() {
  navigator.storage?.persist?.().catch(() => {});
  window.addEventListener('online', () => wake());
  window.addEventListener('offline', () => setLink(true));
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) wake();
  });
  return wake();
}
