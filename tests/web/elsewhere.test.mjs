// Pages of other sites, in a real browser: they can neither send entries here, nor read answers, nor show these pages in a
// frame of theirs; and a name that was made to point here is not answered.

import assert from 'node:assert/strict';
import http from 'node:http';
import { after, before, test } from 'node:test';
import { browse, open, serve } from './support.mjs';
import { smallMill } from './mill.mjs';

let mill;
let browser;
let other;
let where;

const NOTE = JSON.stringify({
  key: '0b7f9a52-0000-4000-8000-00000000e71e',
  kind: 'note',
  body: { about: 'lot:RC-1', text: 'sent by a page of another site' },
});

/* A site of its own, under names that all lead to this machine. */
before(async () => {
  mill = await serve(smallMill());
  other = http.createServer((request, answer) => {
    answer.writeHead(200, { 'Content-Type': 'text/html' });
    answer.end('<!doctype html><title>another site</title><p id="said">loaded</p>');
  });
  await new Promise((done) => other.listen(0, '127.0.0.1', done));
  where = other.address().port;
  browser = await browse(['--host-resolver-rules=MAP *.example 127.0.0.1']);
});
after(async () => {
  await browser?.close();
  other?.close();
  await mill?.stop();
});

const size = async () => (await mill.get('/api/ledger/head')).size;
const port = () => new URL(mill.url).port;

/** What a page of another site can do, tried in it: {what: what came of it}. */
async function tried(page) {
  return page.evaluate(
    async ([url, note]) => {
      const out = {};
      const attempt = async (name, options, path = '/api/entries') => {
        try {
          const answer = await fetch(url + path, options);
          out[name] = answer.type === 'opaque' ? 'sent, unreadable' : `${answer.status} ${(await answer.text()).slice(0, 40)}`;
        } catch {
          out[name] = 'refused';
        }
      };
      await attempt('json', { method: 'POST', body: note, headers: { 'Content-Type': 'application/json' } });
      await attempt('plain', { method: 'POST', body: note, mode: 'no-cors', headers: { 'Content-Type': 'text/plain' } });
      await attempt('with cookies', { method: 'POST', body: note, mode: 'no-cors', credentials: 'include' });
      await attempt('beacon', { method: 'POST', body: new Blob([note], { type: 'text/plain' }), mode: 'no-cors', keepalive: true });
      await attempt('read', {}, '/api/ledger/entries');
      await attempt('read without asking', { mode: 'no-cors' }, '/api/ledger/entries');
      const form = document.createElement('form');
      Object.assign(form, { method: 'post', action: `${url}/api/entries`, enctype: 'text/plain', target: 'away' });
      const field = document.createElement('input');
      field.name = note.slice(0, -1) + ',"x":"';
      field.value = '"}';
      const frame = document.createElement('iframe');
      frame.name = 'away';
      form.append(field);
      document.body.append(frame, form);
      form.submit();
      out.script = await new Promise((done) => {
        const script = document.createElement('script');
        script.onload = () => done('ran');
        script.onerror = () => done('refused');
        script.src = `${url}/frame.js`;
        document.body.append(script);
      });
      out.image = await new Promise((done) => {
        const image = new Image();
        image.onload = () => done('shown');
        image.onerror = () => done('refused');
        image.src = `${url}/mark.svg`;
      });
      await new Promise((done) => setTimeout(done, 800));
      return out;
    },
    [mill.url, NOTE],
  );
}

for (const [name, host] of [
  ['another site', 'evil.example'],
  ['another port of the same machine', '127.0.0.1'],
  ['the same machine by another name', 'localhost'],
]) {
  test(`${name} can send nothing and read nothing`, async () => {
    const began = await size();
    const page = await open(browser, 'desk', `http://${host}:${where}/`);
    const out = await tried(page);
    assert.equal(await size(), began, 'something was recorded');
    for (const what of ['json', 'read', 'script', 'image']) assert.equal(out[what], 'refused', `${what}: ${out[what]}`);
    for (const what of ['plain', 'with cookies', 'beacon', 'read without asking'])
      assert.match(out[what], /refused|sent, unreadable/, `${what}: ${out[what]}`);
    await page.context().close();
  });
}

test('no page is shown in a frame of another site', async () => {
  for (const path of ['/', '/recall.html?origin=heat:H-A', '/shop.html', '/api/me']) {
    const page = await open(browser, 'desk', `http://evil.example:${where}/`);
    await page.evaluate((url) => {
      const frame = document.createElement('iframe');
      frame.src = url;
      document.body.append(frame);
    }, mill.url + path);
    await page.waitForTimeout(600);
    const inside = page.frames().find((f) => f !== page.mainFrame());
    const text = await inside.evaluate(() => document.body?.innerText || '').catch(() => '');
    assert.doesNotMatch(text, /kinwire|Recall|open/, `${path} is shown: ${text.slice(0, 80)}`);
    await page.context().close();
  }
});

test('a name that was made to point here is not answered', async () => {
  const began = await size();
  const page = await open(browser, 'desk');
  const answer = await page.goto(`http://rebound.example:${port()}/`);
  assert.equal(answer.status(), 400);
  const out = await page.evaluate(async (note) => {
    const sent = await fetch('/api/entries', { method: 'POST', body: note, headers: { 'Content-Type': 'application/json' } });
    const read = await fetch('/api/ledger/head');
    return [sent.status, read.status];
  }, NOTE);
  assert.deepEqual(out, [400, 400]);
  assert.equal(await size(), began);
  await page.context().close();
});

test('a page of its own can, with the same requests', async () => {
  const began = await size();
  const page = await open(browser, 'desk', `${mill.url}/`);
  const status = await page.evaluate(
    async (note) =>
      (await fetch('/api/entries', { method: 'POST', body: note, headers: { 'Content-Type': 'application/json' } })).status,
    NOTE,
  );
  assert.equal(status, 201);
  assert.equal(await size(), began + 1);
  await page.context().close();
});
