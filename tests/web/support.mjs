// What the tests stand on: a live kinwire on a ledger of its own, a browser, and pages that fail a test when they
// complain.

import { spawn, spawnSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import fs from 'node:fs';
import { createRequire } from 'node:module';
import net from 'node:net';
import os from 'node:os';
import path from 'node:path';
import { chromium } from 'playwright-core';

const axe = fs.readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

export const SIZES = { desk: { width: 1280, height: 800 }, hand: { width: 390, height: 844 } };
/** ms that a test waits for what takes a moment on a quiet machine. */
export const PATIENCE = 120000;

const FLAGS = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** A port that stays free while a server is down: below those that the system gives to whoever asks for any. */
export async function ownPort() {
  const least = Number(fs.readFileSync('/proc/sys/net/ipv4/ip_local_port_range', 'utf8').split(/\s+/)[0]);
  const most = least > 21000 ? least : 32768;
  for (;;) {
    const port = 20000 + Math.floor(Math.random() * (most - 20000));
    const free = await new Promise((resolve) => {
      const tried = net.createServer();
      tried.once('error', () => resolve(false));
      tried.listen(port, '127.0.0.1', () => tried.close(() => resolve(true)));
    });
    if (free) return port;
  }
}

/**
 * `kinwire serve` with these options, once it says where it answers: { child, url }. When it ends and nobody asked it to,
 * that is told, since what fails then is only that nobody answers.
 */
export async function started(program, options) {
  const child = spawn(program, ['serve', ...options], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  const url = await new Promise((resolve, reject) => {
    const hear = (data) => {
      said += data;
      const found = /http:\/\/[0-9.:]+/.exec(said);
      if (found) resolve(found[0]);
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.on('exit', (status, signal) => {
      if (child.asked) return;
      console.error(`kinwire serve ended with ${status ?? signal}: ${said}`);
      reject(new Error(`serve ended with ${status ?? signal}: ${said}`));
    });
  });
  return { child, url };
}

/** End it, and wait until it has. */
export async function ended(child, signal) {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.asked = true;
  const gone = new Promise((done) => child.once('exit', done));
  child.kill('SIGCONT');
  child.kill(signal);
  await gone;
}

/** A server on a fresh ledger, with the entries of `ndjson` (a path, or text) in it. */
export async function serve(ndjson) {
  const program = process.env.KINWIRE;
  if (!program) throw new Error('KINWIRE names the program');
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'kinwire-web-'));
  const ledger = path.join(folder, 'mill.kw');
  if (ndjson) {
    const file = fs.existsSync(ndjson) ? ndjson : path.join(folder, 'entries.ndjson');
    if (file !== ndjson) fs.writeFileSync(file, ndjson);
    const loaded = spawnSync(program, ['load', '--ledger', ledger, file], { encoding: 'utf8' });
    if (loaded.status !== 0) throw new Error(`load: ${loaded.stderr || loaded.stdout}`);
  }
  const { child, url } = await started(program, ['--ledger', ledger, '--listen', '127.0.0.1:0', '--open']);
  return {
    url,
    async post(...entries) {
      const answer = await fetch(`${url}/api/entries`, {
        method: 'POST',
        headers: { 'Content-Type': 'application/x-ndjson' },
        body: entries.map((e) => `${JSON.stringify({ key: randomUUID(), ...e })}\n`).join(''),
      });
      const text = await answer.text();
      if (!answer.ok) throw new Error(`${answer.status} ${text}`);
      return text
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line));
    },
    get: async (where) => (await fetch(url + where)).json(),
    pause: () => child.kill('SIGSTOP'),
    resume: () => child.kill('SIGCONT'),
    async stop() {
      await ended(child, 'SIGTERM');
      fs.rmSync(folder, { recursive: true, force: true });
    },
  };
}

/**
 * What a page gives a server to answer counts for more on a machine that is busy with other tests: one that is slow is not
 * taken for one that is away.
 */
function patient() {
  const within = AbortSignal.timeout.bind(AbortSignal);
  AbortSignal.timeout = (ms) => within(ms * 10);
}

/** A browser; `more` are switches beyond the usual ones. A context that is `hasty` waits no longer than a person would. */
export async function browse(more = []) {
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: [...FLAGS, ...more], timeout: PATIENCE });
  const plain = browser.newContext.bind(browser);
  browser.newContext = async ({ hasty = false, ...options } = {}) => {
    const context = await plain(options);
    context.setDefaultTimeout(PATIENCE);
    if (!hasty) await context.addInitScript(patient);
    return context;
  };
  return browser;
}

/**
 * A page of a size. Everything it complains of (console errors, exceptions, breaches of the content security policy) is
 * kept in `page.complaints`; a test that expects a refusal of the server gives its status in `page.refusals`.
 */
export async function open(browser, size, where, options = {}) {
  const context = await browser.newContext({ viewport: SIZES[size], ...options });
  const page = await context.newPage();
  page.complaints = [];
  page.refusals = [];
  page.on('console', (message) => {
    if (message.type() !== 'error') return;
    const text = message.text();
    if (page.refusals.some((status) => text.includes(`status of ${status}`))) return;
    page.complaints.push(`${text} (${message.location().url})`);
  });
  page.on('pageerror', (error) => page.complaints.push(String(error.stack || error)));
  await page.addInitScript(() => {
    window.breaches = [];
    document.addEventListener('securitypolicyviolation', (event) =>
      window.breaches.push(`${event.violatedDirective} ${event.blockedURI}`),
    );
  });
  if (where) await page.goto(where);
  return page;
}

/**
 * All that is wrong with a page as it stands, by axe-core; the script comes in over the debugging protocol, not by the
 * page.
 */
export async function accessibility(page) {
  await page.evaluate(axe);
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  return found.violations.map(
    (v) =>
      `${v.id}: ${v.help}: ${v.nodes
        .slice(0, 3)
        .map((n) => `${n.target} ${n.any?.[0]?.message || ''}`)
        .join(' | ')}`,
  );
}

/** What a page complained of, breaches of its policy included. */
export async function complaints(page) {
  return [...page.complaints, ...(await page.evaluate(() => window.breaches))];
}
