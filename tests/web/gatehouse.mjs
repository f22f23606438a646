// A mill where one signs in: a server without --open that can be stopped and started again on the same ledger and port,
// its administrator, and people with passwords, badges and PINs.

import { spawnSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { ended, ownPort, started } from './support.mjs';

const WORDS = 'walrus ladder opal kettle bison quince meadow tulip gravel lantern pickle harbour'.split(' ');
let made = 0;

/** A password that nobody has had. */
export function password() {
  made += 1;
  return `${WORDS[made % 12]} ${WORDS[(made * 5 + 3) % 12]} ${WORDS[(made * 7 + 1) % 12]} ${7000 + made}`;
}

/** Whoever asks without a browser: a session with its cookies. */
class Caller {
  constructor(house) {
    this.house = house;
    this.cookies = new Map();
    this.csrf = null;
  }

  async request(method, where, body, headers = {}) {
    const { url } = this.house;
    const answer = await fetch(url + where, {
      method,
      headers: {
        Origin: url,
        Cookie: [...this.cookies].map(([k, v]) => `${k}=${v}`).join('; '),
        ...(body === undefined ? {} : { 'Content-Type': 'application/json' }),
        ...(this.csrf ? { 'Kinwire-Csrf': this.csrf } : {}),
        ...headers,
      },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
    // one line for all of them: node 18 has them in no other way, and none of ours has a comma inside
    for (const set of (answer.headers.get('set-cookie') || '').split(/,\s*/).filter(Boolean)) {
      const [name, value] = set.split(';')[0].split('=');
      this.cookies.set(name, value);
    }
    const said = await answer.json();
    if (!answer.ok) throw new Error(`${method} ${where}: ${answer.status} ${JSON.stringify(said)}`);
    if (said.csrf) this.csrf = said.csrf;
    return said;
  }

  get = (where) => this.request('GET', where);
  post = (where, body = {}) => this.request('POST', where, body);
  say = (kind, body) => this.post('/api/entries', { key: randomUUID(), kind, body });
}

export async function gatehouse() {
  const program = process.env.KINWIRE;
  if (!program) throw new Error('KINWIRE names the program');
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'kinwire-gate-'));
  const ledger = path.join(folder, 'mill.kw');
  const init = spawnSync(program, ['admin-init', '--ledger', ledger, '--person', 'AD-1', '--name', 'Ada Minkels'], {
    encoding: 'utf8',
  });
  if (init.status !== 0) throw new Error(init.stderr);
  const house = { url: null, code: init.stdout.trim(), passwords: {}, admin: null };
  const more = [
    ...(process.env.KINWIRE_WEB ? ['--web', process.env.KINWIRE_WEB] : []),
    ...(process.getuid() === 0 ? ['--as-root'] : []),
    '--rate',
    '0' /* a person signs in less often than a test */,
  ];
  let child = null;
  const port = await ownPort();

  house.start = async () => {
    const up = await started(program, ['--ledger', ledger, '--listen', `127.0.0.1:${port}`, ...more]);
    child = up.child;
    house.url = up.url;
  };
  house.stop = () => ended(child, 'SIGTERM');
  house.away = async () => {
    await house.stop();
    fs.rmSync(folder, { recursive: true, force: true });
  };
  house.caller = async (person) => {
    const c = new Caller(house);
    await c.post('/api/session', { person, password: house.passwords[person] });
    return c;
  };
  /** The first administrator sets a password and is signed in, away from any browser. */
  house.settle = async () => {
    house.passwords['AD-1'] = password();
    await new Caller(house).post('/api/password', { person: 'AD-1', code: house.code, new: house.passwords['AD-1'] });
    house.admin = await house.caller('AD-1');
  };
  /** A person; with `pin`, one who works at terminals. */
  house.person = async (person, name, roles, { badge, pin } = {}) => {
    const again = () => house.admin.post('/api/session/again', { password: house.passwords['AD-1'] });
    await again();
    await house.admin.say('person', { person, name, roles, ...(badge ? { badge } : {}) });
    const { code } = await house.admin.post(`/api/people/${person}/code`);
    house.passwords[person] = password();
    await new Caller(house).post('/api/password', { person, code, new: house.passwords[person] });
    if (!pin) return;
    const given = await house.admin.post(`/api/people/${person}/pin`);
    await new Caller(house).post('/api/pin', { person, code: given.code, pin });
  };
  /** A terminal's one-time code. */
  house.terminal = async (terminal, place) => {
    await house.admin.post('/api/session/again', { password: house.passwords['AD-1'] });
    await house.admin.say('terminal', { terminal, where: place });
    return (await house.admin.post(`/api/terminals/${terminal}/code`)).code;
  };
  house.entries = async () => {
    const got = await house.admin.get('/api/entries?limit=500');
    return got.entries.reverse();
  };
  await house.start();
  return house;
}
