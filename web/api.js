// Talking to the server: every request of the pages goes through here.
//
// A request that needs somebody signed in, or the password again, is sent once more when that is done (web/door.js); what
// was typed stays where it is, and an entry keeps its key. Whatever a session sends carries the word that the server has
// given it (Kinwire-Csrf), so that no page goes on under another's name when someone else has signed in beside it.

/** A refusal: the server's problem+json, or no answer at all (status 0). */
export class Problem extends Error {
  constructor(status, body, headers = null) {
    super(body.detail || body.title || `HTTP ${status}`);
    this.status = status;
    this.slug = String(body.type || '')
      .split('/')
      .pop();
    this.title = body.title || '';
    this.pointer = body.pointer ?? null;
    this.values = body.values || null;
    this.missing = body.missing || null; /* of a certificate that was refused */
    this.after = Number(headers?.get('Retry-After')) || null; /* s until it is worth trying again */
  }
}

/** path and its query; a value that is empty is left out. */
export function url(path, query = {}) {
  const asked = new URLSearchParams();
  for (const [name, value] of Object.entries(query)) {
    if (value !== null && value !== undefined && value !== '') asked.set(name, value);
  }
  const text = asked.toString();
  return text ? `${path}?${text}` : path;
}

/* --- who asks ------------------------------------------------------------------------------------ */

let known = null; /* a promise of who one is, asked for once */
let was = null; /* who it was last, in this page */

function keep(who) {
  if (who.by) was = who;
  known = Promise.resolve(who);
  return who;
}

/** Who one is: the answer of /api/me; the same for the whole page unless `anew`. */
export function me({ anew = false } = {}) {
  if (anew || !known) {
    known = get('/api/me').then(keep);
    known.catch(() => {
      known = null;
    });
  }
  return known;
}

/** Who was signed in last in this page, as far as it knows; null: nobody yet. */
export const last = () => was;

async function csrf() {
  try {
    return (await me()).csrf;
  } catch (problem) {
    if (problem.status === 401) return null; /* the request itself is told so */
    throw problem;
  }
}

async function post(path, body, headers = {}) {
  const word = await csrf();
  return send(path, {
    method: 'POST',
    headers: {
      'Content-Type': 'application/json',
      Accept: 'application/json',
      'Kinwire-Terminal': terminal(),
      ...(word ? { 'Kinwire-Csrf': word } : {}),
      ...headers,
    },
    body: JSON.stringify(body),
  });
}

/* Whether somebody else has signed in beside this page, and goes on with what it was about to send. */
async function someoneElse() {
  const [before, now] = [was, await me({ anew: true })];
  if (!before || before.csrf === now.csrf) return false;
  if (before.by !== now.by) await (await import('./door.js')).goOnAs(now);
  return true;
}

/* What a request may wait for: its problem, and what to do about it. */
async function mended(problem) {
  if (problem.slug === 'no-session') {
    known = null;
    await (await import('./door.js')).signInAgain(was);
    return true;
  }
  if (problem.slug === 'password-again') {
    await (await import('./door.js')).passwordAgain();
    return true;
  }
  if (problem.status === 403) return someoneElse();
  return false;
}

/** Do `work`, and do it again once whatever it waits for is done. */
async function patiently(work) {
  for (let tries = 0; ; tries += 1) {
    try {
      return await work();
    } catch (problem) {
      if (!(problem instanceof Problem) || tries > 3 || !(await mended(problem))) throw problem;
    }
  }
}

/** POST what is no entry; answers the JSON. */
export const order = (path, body = {}) => patiently(async () => (await post(path, body)).json());

/** The same by whom nobody knows yet: signing in, a password by code. What it answers of who one is now counts. */
export async function enter(path, body = {}) {
  const answer = await (await post(path, body)).json();
  known = null;
  return answer.by ? keep(answer) : answer;
}

async function send(path, options) {
  let answer;
  try {
    answer = await fetch(path, options);
  } catch (cause) {
    if (cause.name === 'AbortError') throw cause;
    throw new Problem(0, { type: 'no-answer', detail: '' });
  }
  if (answer.ok) return answer;
  let body = {};
  try {
    body = await answer.json();
  } catch {
    body = { title: answer.statusText };
  }
  throw new Problem(answer.status, body, answer.headers);
}

/** The size of the ledger at which the page looks, when its address says one: as it was. */
export const past = /^\d{1,15}$/.test(new URLSearchParams(globalThis.location?.search || '').get('size') || '')
  ? new URLSearchParams(location.search).get('size')
  : null;
/** A query that is answered as it was then. */
const then = (query = {}) => (past ? { ...query, size: past } : query);

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/** A ledger as it was has to be made first: asked again until it is there. How far it is goes to `made` listeners, and null when it is there. */
export const made = new EventTarget();

async function sendThen(path, query, options) {
  let waited = false;
  for (;;) {
    try {
      const answer = await send(url(path, query), options);
      if (answer.status !== 202) {
        if (waited) made.dispatchEvent(new CustomEvent('made', { detail: null }));
        return answer;
      }
      waited = true;
      made.dispatchEvent(new CustomEvent('made', { detail: await answer.json() }));
    } catch (problem) {
      if (!query?.size || problem.status !== 503) throw problem;
    }
    await pause(400);
  }
}

/** GET, as parsed JSON. */
export async function get(path, query, signal) {
  const ask = () => sendThen(path, query, { headers: { Accept: 'application/json' }, signal });
  const answer = await (path === '/api/me' || path === '/api/session' ? ask() : patiently(ask));
  return answer.json();
}

/** GET, as text of a media type. */
export async function getText(path, query, type) {
  const answer = await patiently(() => sendThen(path, query, { headers: { Accept: type } }));
  return answer.text();
}

/** A file to save, as the answer that brings it. */
export const file = (path, query) => patiently(() => send(url(path, query), {}));

/** The name of this terminal, as entries carry it. */
export const terminal = () => localStorage.getItem('kinwire.terminal') || 'WEB';

/** Append an entry; answers its receipt. The same entry sent again, key and all, is recorded once. */
export async function append(entry) {
  const answer = await patiently(() => post('/api/entries', entry));
  const receipt = await answer.json();
  receipt.again = answer.status === 200;
  return receipt;
}

/**
 * A fresh key for an entry: a UUID whose first half is the time (RFC 9562, version 7), so that the keys of a day lie side by side in the
 * ledger and recording one touches what the one before has touched. The other half is chance, 74 bits of it.
 */
export function newKey() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  let ms = Date.now();
  for (let i = 5; i >= 0; i--) {
    b[i] = ms % 256;
    ms = Math.floor(ms / 256);
  }
  b[6] = (b[6] & 0x0f) | 0x70;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((x) => x.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

const segment = encodeURIComponent;

export const session = () => get('/api/session');
export const find = (q, signal) => get('/api/find', { q }, signal);
export const attention = () => get('/api/attention');
export const holds = (query) => get('/api/holds', query);
export const hold = (code) => get(`/api/holds/${segment(code)}`);
export const trace = (question, page = {}) => get('/api/trace', then({ ...question, ...page }));
export const traceCsv = (question) => getText('/api/trace', then(question), 'text/csv');
export const genealogy = (question) => get('/api/export', then({ ...question, as: 'genealogy' }));
export const lot = (code) => get(`/api/lots/${segment(code)}`, then());
export const makeup = (code, query) => get(`/api/lots/${segment(code)}/makeup`, then(query));
export const joints = (code) => get(`/api/lots/${segment(code)}/joints`, then());
export const balance = (code) => get(`/api/lots/${segment(code)}/balance`, then());
export const thing = (type, code) => get(`/api/things/${segment(type)}/${segment(code)}`, then());
export const certifiable = (query) => get('/api/certifiable', query);
export const certificates = (query) => get('/api/certificates', query);
export const certificate = (code) => get(`/api/certificates/${segment(code)}`);
export const entries = (query) => get('/api/entries', query);
export const entry = (seq) => get(`/api/entries/${segment(seq)}`);
export const sizeAt = (time) => get('/api/ledger/at', { time });
export const head = () => get('/api/ledger/head');
export const leaves = (after, limit) => getText('/api/ledger/entries', { after, limit }, 'application/x-ndjson');
export const inclusion = (seq, size) => get('/api/ledger/proof', { seq, size });
export const consistency = (from, size) => get('/api/ledger/proof', { from, size });
export const balanceOf = (query) => get('/api/balance', then(query));
export const gaps = (query) => get('/api/gaps', query);
export const chart = (query) => get('/api/chart', query);
export const specs = () => get('/api/specs');
export const instruments = () => get('/api/instruments');
export const instrument = (code) => get(`/api/instruments/${segment(code)}`);
export const judged = (test, query) => get(`/api/tests/${segment(test)}/judged`, query);
export const strength = (code) => get(`/api/lots/${segment(code)}/strength`);
export const verify = () => get('/api/ledger/verify');

/** The page of a thing. */
export function pageOf(type, code) {
  if (type === 'lot') return url('lot.html', then({ lot: code }));
  if (type === 'entry') return url('ledger.html', { seq: code });
  if (type === 'certificate') return url('certificate.html', { c: code });
  return url('thing.html', then({ type, code }));
}

/** The page of a question. */
export const recallOf = (type, code, direction = 'forward') =>
  url('recall.html', then({ origin: `${type}:${code}`, direction }));

/** The page of what is behind a thing or was made of it, to be read and printed. */
export const genealogyOf = (type, code) => url('genealogy.html', then({ origin: `${type}:${code}` }));
