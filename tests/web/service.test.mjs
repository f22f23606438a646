// Putting kinwire into service: how it stands, by figures of every kind, and the page itself.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { readFigures, standing } from '../../web/standing.js';
import { accessibility, browse, complaints, open, serve } from './support.mjs';
import { smallMill } from './mill.mjs';

let mill;
let browser;

before(async () => {
  mill = await serve(smallMill());
  browser = await browse();
});
after(async () => {
  await browser?.close();
  await mill?.stop();
});

const WELL = `# HELP kinwire_writer_failed x
kinwire_writer_failed 0
kinwire_read_only 0
kinwire_disk_free_bytes 107374182400
kinwire_disk_floor_bytes 268435456
kinwire_commit_seconds_bucket{le="0.001"} 10
kinwire_commit_seconds_sum 0.100000
kinwire_commit_seconds_count 10
kinwire_commit_seconds_max 0.020000
kinwire_commit_seconds_waiting 0.000000
kinwire_queue 0
kinwire_queue_max 3
kinwire_log_bytes 4096
kinwire_head_age_seconds 60
kinwire_limited_total{limit="rate"} 0
kinwire_sign_ins_total{outcome="locked"} 0
`;
const WHO = { open: false, in_the_clear: false };

const states = (change, who = WHO) => {
  const rows = standing({ ...readFigures(WELL), ...change }, who, true);
  return Object.fromEntries(rows.filter((r) => r.state !== 'good').map((r) => [r.name, r.state]));
};

for (const [name, change, who, want] of [
  ['all is well', {}, WHO, {}],
  ['the disk failed', { kinwire_writer_failed: 1 }, WHO, { writer: 'act' }],
  ['no room', { kinwire_read_only: 1, kinwire_disk_free_bytes: 1000 }, WHO, { room: 'act' }],
  ['little room', { kinwire_disk_free_bytes: 2 ** 29 }, WHO, { room: 'look' }],
  ['a slow disk', { kinwire_commit_seconds_sum: 5 }, WHO, { commit: 'look' }],
  ['a stalled disk', { kinwire_commit_seconds_waiting: 12 }, WHO, { commit: 'act' }],
  ['many wait', { kinwire_queue: 500 }, WHO, { queue: 'look' }],
  ['a long log', { kinwire_log_bytes: 2 ** 27 }, WHO, { log: 'look' }],
  ['nothing for days', { kinwire_head_age_seconds: 4 * 86400 }, WHO, { age: 'look' }],
  ['the certificate ends', { kinwire_certificate_seconds_left: 10 * 86400 }, WHO, { certificate: 'look' }],
  ['the certificate is over soon', { kinwire_certificate_seconds_left: 86400 }, WHO, { certificate: 'act' }],
  ['someone tries passwords', { 'kinwire_sign_ins_total{outcome="locked"}': 2 }, WHO, { tries: 'look' }],
  ['open', {}, { open: true, in_the_clear: false }, { who: 'look' }],
  ['in the clear', {}, { open: false, in_the_clear: true }, { private: 'act' }],
])
  test(`standing: ${name}`, () => assert.deepEqual(states(change, who), want));

for (const size of ['desk', 'hand'])
  for (const language of ['en', 'es'])
    test(`the page, ${size}, ${language}`, async () => {
      const page = await open(browser, size, null, { locale: language });
      await page.goto(`${mill.url}/service.html`);
      await page.waitForSelector('#standing tbody tr');
      assert.equal(await page.locator('#steps section').count(), await page.locator('#list li').count());
      assert.equal(await page.locator('[data-state=who]').innerText(), language === 'es' ? 'Revisar' : 'Look at it');
      const text = await page.locator('main').innerText();
      assert.doesNotMatch(text, /\b(step|standing|state|service)\.[a-z]/, 'a key without words');
      assert.doesNotMatch(text, /NaN|undefined/);
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)) <= 0, 'it scrolls sideways');
      assert.deepEqual(await accessibility(page), []);
      assert.deepEqual(await complaints(page), []);
      await page.context().close();
    });

test('a step is reached by its link, and by the keyboard', async () => {
  const page = await open(browser, 'desk', `${mill.url}/service.html`);
  await page.waitForSelector('#list a');
  await page.locator('#list a[href="#drill"]').focus();
  await page.keyboard.press('Enter');
  assert.equal(new URL(page.url()).hash, '#drill');
  assert.ok(await page.locator('#drill').evaluate((x) => x.getBoundingClientRect().top < innerHeight));
  await page.context().close();
});

test('the commands of the page are those of the program', async () => {
  const { spawnSync } = await import('node:child_process');
  const page = await open(browser, 'desk', `${mill.url}/service.html`);
  await page.waitForSelector('#steps pre');
  const text = (await page.locator('#steps pre').allInnerTexts()).join('\n');
  const known = (args) => spawnSync(process.env.KINWIRE, [...args, '--help'], { encoding: 'utf8' }).stdout;
  for (const [, command, rest] of text.matchAll(/\bkinwire (serve|restore|verify|follow|token|admin-init|backup) ([^\n#]*)/g)) {
    const help = known([command]);
    for (const [option] of rest.matchAll(/--[a-z-]+/g)) assert.ok(help.includes(option), `kinwire ${command} ${option}`);
  }
  const serveHelp = known(['serve']);
  for (const [, options] of text.matchAll(/KINWIRE_OPTIONS=([^\n]*)/g))
    for (const [option] of options.matchAll(/--[a-z-]+/g)) assert.ok(serveHelp.includes(option), option);
  const metrics = await (await fetch(`${mill.url}/metrics`)).text();
  for (const [figure] of text.matchAll(/\bkinwire_[a-z_]+/g))
    assert.ok(metrics.includes(figure) || figure === 'kinwire_certificate_seconds_left', figure);
  await page.context().close();
});
