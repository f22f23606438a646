// Whatever the server can say of an entry has words in every language, with the values that the server gives: every
// finding by its code and, where it has several, by the name of the sentence; every refusal by its problem type.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import { test } from 'node:test';

const root = new URL('../../', import.meta.url);
const source = (folder) =>
  fs
    .readdirSync(new URL(folder, root), { recursive: true })
    .filter((name) => name.endsWith('.c'))
    .map((name) => fs.readFileSync(new URL(`${folder}/${name}`, root), 'utf8'))
    .join('\n');
const server = source('server');
const LANGUAGES = ['en', 'es'];
const words = Object.fromEntries(
  await Promise.all(
    LANGUAGES.map(async (lang) => [lang, (await import(new URL(`web/words/${lang}-said.js`, root))).default]),
  ),
);
const placed = (text) => [...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1]);

/** Every call of `name`, as the text between its brackets. */
function calls(name) {
  const out = [];
  for (const found of server.matchAll(new RegExp(`\\b${name}\\(`, 'g'))) {
    let depth = 1;
    let at = found.index + found[0].length;
    for (let quoted = false; depth > 0; at += 1) {
      const c = server[at];
      if (c === '"' && server[at - 1] !== '\\') quoted = !quoted;
      else if (!quoted && c === '(') depth += 1;
      else if (!quoted && c === ')') depth -= 1;
    }
    out.push(server.slice(found.index + found[0].length, at - 1));
  }
  return out;
}

/** The names that an argument may stand for: the literals in it. */
const named = (argument) => [...argument.matchAll(/"([a-z-]+)"/g)].map((m) => m[1]);
const VERBS = ['fed', 'sent', 'certified']; /* what a hold bars: `verbs` of barred.c */

const valuesIn = (call) => [...call.matchAll(/KW_(?:WORD|FIGURE)\("(\w+)"/g)].map((m) => m[1]);

test('every code of a finding has its short words', () => {
  const codes = new Set(
    ['kw_finding', 'kw_finding_with', 'kw_finding_odd']
      .flatMap(calls)
      .map((call) => /^\s*[\w>.-]+,\s*"([a-z-]+)"/.exec(call)?.[1])
      .filter(Boolean),
  );
  assert.ok(codes.size >= 9, [...codes].join());
  for (const lang of LANGUAGES)
    for (const code of codes) assert.ok(`finding.${code}` in words[lang], `${lang}: finding.${code}`);
});

/* What is said by a plan is a struct's, under the codes that run_findings.c gives it. */
const ODD = { area: 'length-ratio', same: 'length-ratio', less: 'length-ratio', lay: 'length-ratio', says: 'mass-balance' };

test('every sentence of a finding has its words, with no value that is not given', () => {
  const said = calls('kw_finding_with').flatMap((call) => {
    const found = /^\s*[\w>.-]+,\s*"([a-z-]+)",\s*([^,]+),/.exec(call);
    if (!found) return []; /* its own definition */
    const as = found[2] === 'NULL' ? ['says'] : found[2] === 'which' ? ['from', 'until'] : named(found[2]);
    return as.map((one) => [found[1], one, valuesIn(call)]);
  });
  for (const call of calls('kw_said_set')) {
    if (!call.includes('odd->said')) continue;
    const as = call.includes('? "less"') ? ['less', 'lay'] : [/,\s*"([a-z-]+)",/.exec(call)?.[1] || 'says'];
    for (const one of as) said.push([ODD[one], one, valuesIn(call)]);
  }
  assert.ok(said.length >= 14, String(said.length));
  for (const lang of LANGUAGES)
    for (const [code, as, values] of said) {
      const text = words[lang][`finding.${code}.${as}`];
      assert.ok(text, `${lang}: finding.${code}.${as}`);
      for (const name of placed(text)) assert.ok(values.includes(name), `${lang}: finding.${code}.${as} has no {${name}}`);
    }
});

test('every refusal has its short words, and every sentence of one its own', () => {
  const error = fs.readFileSync(new URL('server/core/error.c', root), 'utf8');
  const slugs = new Map([...error.matchAll(/\[(KW_[A-Z_]+)\] = \{"([a-z-]+)"/g)].map((m) => [m[1], m[2]]));
  slugs.delete('KW_FINE');
  assert.ok(slugs.size > 30);
  for (const lang of LANGUAGES)
    for (const slug of slugs.values()) assert.ok(`bar.${slug}` in words[lang], `${lang}: bar.${slug}`);
  let sentences = 0;
  /* What, [where], and which of its sentences it is; a walk through a body has the same, and the name of the field. */
  const refusals = [
    ...calls('kw_refuse_with').map((call) => [call, /,\s*(KW_[A-Z_]+),[^,]+,\s*([^,]+),/.exec(call)]),
    ...calls('kw_walk_refuse').map((call) => [call, /,\s*(KW_[A-Z_]+),[^,]+,\s*([^,]+),/.exec(call)]),
    ...calls('refuse').map((call) => [call, /^walk,\s*(KW_[A-Z_]+),\s*([^,]+),/.exec(call)]),
    ...calls('bad_type').map((call) => [call, [call, 'KW_BAD_TYPE', /^walk,\s*([^,]+)/.exec(call)?.[1] || '']]),
  ];
  for (const [call, found] of refusals) {
    if (!found) continue;
    const as = found[2] === 'NULL' ? ['says'] : found[2].startsWith('verbs') ? VERBS : named(found[2]);
    for (const one of as) {
      const key = `bar.${slugs.get(found[1])}.${one}`;
      sentences += 1;
      for (const lang of LANGUAGES) {
        assert.ok(key in words[lang], `${lang}: ${key}`);
        for (const name of placed(words[lang][key]))
          assert.ok(name === 'field' || valuesIn(call).includes(name), `${lang}: ${key} has no {${name}}`);
      }
    }
  }
  assert.ok(sentences >= 90, String(sentences));
});

test('whatever is missing for a certificate has its short words, and every sentence of it its own', async () => {
  const table = fs.readFileSync(new URL('server/core/complete.c', root), 'utf8');
  const codes = new Map([...table.matchAll(/\[(KW_(?:LACK|KNOW)_[A-Z_]+)\] = \{"([a-z-]+)"/g)].map((m) => [m[1], m[2]]));
  assert.ok(codes.size > 10, [...codes].join());
  for (const lang of LANGUAGES) {
    const short = (await import(new URL(`web/words/${lang}-quality.js`, root))).default;
    for (const code of codes.values()) assert.ok(`lack.${code}` in short, `${lang}: lack.${code}`);
  }
  let sentences = 0;
  for (const call of calls('add')) {
    /* The gathering, what, the thing to look at and its code, and which sentence. */
    const found = /^g,\s*([^,]*KW_(?:LACK|KNOW)_[^,]+),[^,]+,[^,]+,\s*([^,]+),\s*KW_VALUES\(/.exec(call);
    if (/KW_(?:LACK|KNOW)_/.test(call)) assert.ok(found, call);
    else continue;
    const as = found[2] === 'NULL' ? ['says'] : named(found[2]);
    for (const [what] of found[1].matchAll(/KW_[A-Z_]+/g))
      for (const one of as)
        for (const lang of LANGUAGES) {
          const key = `lack.${codes.get(what)}.${one}`;
          sentences += 1;
          assert.ok(key in words[lang], `${lang}: ${key}`);
          for (const name of placed(words[lang][key])) assert.ok(valuesIn(call).includes(name), `${lang}: ${key} has no {${name}}`);
        }
  }
  assert.ok(sentences >= 2 * 18, String(sentences));
});

test('every member of an entry has a name in every language, for a refusal to say which it is about', async () => {
  const names = new Set();
  (function walk(it) {
    if (it === null || typeof it !== 'object') return;
    if (!Array.isArray(it) && it.properties) for (const name of Object.keys(it.properties)) names.add(name);
    for (const inner of Object.values(it)) walk(inner);
  })(JSON.parse(fs.readFileSync(new URL('schema/entry.schema.json', root), 'utf8')));
  assert.ok(names.size > 100, String(names.size));
  for (const lang of LANGUAGES) {
    const all = { ...(await import(new URL(`web/words/${lang}.js`, root))).default, ...words[lang] };
    assert.deepEqual([...names].filter((name) => !(`field.${name}` in all)), [], lang);
  }
});

test('a refusal of what a page asks for, and of signing in, always has a sentence of its own', () => {
  /* What no page brings about: headers and addresses, certificates of the server, how it is started, what is watched. */
  const others = ['gate', 'address', 'tls', 'server', 'figures', 'gaps'].map((name) => `http/${name}.c`);
  const labels = ['report/label/caution.c', 'report/label/check.c']; /* texts of the server's own */
  const bare = ['http', 'report', 'report/label', 'report/export', 'ledger/read', 'core'].flatMap((folder) =>
    fs
      .readdirSync(new URL(`server/${folder}`, root))
      .map((name) => `${folder}/${name}`)
      .filter((name) => name.endsWith('.c') && !others.includes(name) && !labels.includes(name))
      .filter((name) => !/pack|witness/.test(name)) /* files that somebody checks on a console */
      .filter((name) => /\bkw_refuse\(err|\bkw_refuse\(&/.test(fs.readFileSync(new URL(`server/${name}`, root), 'utf8'))),
  );
  assert.deepEqual(bare, []);
});

test('a refusal that comes from an entry\u2019s own kinds always has a sentence of its own', () => {
  /* What follows from no entry that a page makes: a file, a pack, a walk through the ledger\u2019s own files. */
  const folder = new URL('server/ledger/', root);
  for (const name of fs.readdirSync(folder).filter((f) => /^(kind_|shape|agreed|rights)/.test(f) && f.endsWith('.c'))) {
    const text = fs.readFileSync(new URL(name, folder), 'utf8');
    const bare = [...text.matchAll(/\bkw_refuse\([^;]*?(KW_[A-Z_]+)/g)].map((m) => m[1]);
    const may = { 'kind_certify.c': ['KW_NOT_COMPLETE'], 'shape.c': ['KW_NOT_ENTRY'] }[name] || [];
    assert.deepEqual(bare.filter((what) => !may.includes(what)), [], name);
  }
});
