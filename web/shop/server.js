// Asking the server from the terminal: with the terminal's name (so that what was kept may answer when the server does
// not), in little time.

import { Problem, terminal, url } from '../api.js';
import { heard, link, who } from '../queue.js';

const PATIENCE = 6000; /* ms; the worker gives what it has kept after 4000 */
const AWAY = 2000; /* while the server is known not to answer; the worker's is 800 */

let seen = 0; /* when somebody last did something here */
const BACKGROUND = 15000; /* ms after which what is asked is nobody's doing, and keeps no session alive */

export const alive = (at) => {
  seen = at;
};

const signs = () => (Date.now() - seen > BACKGROUND ? { 'Kinwire-Background': '1' } : {});

function ended(answer) {
  if (answer.status === 401) document.dispatchEvent(new CustomEvent('kinwire-no-session'));
}

/** POST what is no entry, by whoever is at the door. */
export async function post(path, body) {
  let answer;
  try {
    answer = await fetch(path, {
      method: 'POST',
      headers: {
        'Content-Type': 'application/json',
        Accept: 'application/json',
        ...(who.csrf ? { 'Kinwire-Csrf': who.csrf } : {}),
      },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(15000),
    });
  } catch {
    heard(false);
    throw new Problem(0, { type: 'no-answer', detail: '' });
  }
  heard(true);
  const said = await read(answer);
  if (!answer.ok) throw new Problem(answer.status, said, answer.headers);
  return said;
}

async function read(answer) {
  try {
    return await answer.json();
  } catch {
    return {};
  }
}

/**
 * GET: { body, kept } where kept is the time from which the answer is when the server did not give it now, else null.
 * Throws Problem: status 0 when there is neither server nor kept answer.
 */
export async function ask(path, query) {
  let answer;
  try {
    const headers = {
      Accept: 'application/json',
      'Kinwire-Terminal': terminal(),
      ...(link.away ? { 'Kinwire-Away': 'yes' } : {}),
      ...signs(),
    };
    answer = await fetch(url(path, query), { headers, signal: AbortSignal.timeout(link.away ? AWAY : PATIENCE) });
  } catch {
    heard(false);
    throw new Problem(0, { type: 'no-answer', detail: '' });
  }
  const kept = answer.headers.get('Kinwire-Kept');
  heard(!kept);
  const body = await read(answer);
  ended(answer);
  if (!answer.ok) throw new Problem(answer.status, body);
  return { body, kept };
}

/** POST /api/check: what the server would say to an entry; nothing is recorded. null: it can't be asked now. */
export async function check(entry) {
  let answer;
  try {
    answer = await fetch('/api/check', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', Accept: 'application/json', 'Kinwire-Terminal': terminal(), ...(who.csrf ? { 'Kinwire-Csrf': who.csrf } : {}) },
      body: JSON.stringify(entry),
      signal: AbortSignal.timeout(2500),
    });
  } catch {
    heard(false);
    return null;
  }
  const body = await read(answer);
  ended(answer);
  if (answer.ok) return { findings: body.findings || [] };
  if (answer.status === 404 && !body.type) return null;
  if (answer.status >= 500 || answer.status === 401 || answer.status === 403 || /\/not-found$/.test(body.type || ''))
    return null;
  return { problem: new Problem(answer.status, body) };
}
