// The ledger's Merkle tree (RFC 9162, section 2.1, SHA-256) computed in the browser, so that a head need not be
// believed.

const bytes = new TextEncoder();
const sha256 = async (data) => new Uint8Array(await crypto.subtle.digest('SHA-256', data));

/** Whether the browser can: it computes hashes only on a secure origin (https, or this machine). */
export const able = () => Boolean(globalThis.crypto?.subtle);

export const hex = (data) => [...data].map((b) => b.toString(16).padStart(2, '0')).join('');
export const unhex = (text) => Uint8Array.from(text.match(/../g) || [], (pair) => Number.parseInt(pair, 16));

function joined(first, ...parts) {
  const all = new Uint8Array(1 + parts.reduce((n, p) => n + p.length, 0));
  all[0] = first;
  let at = 1;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

/** SHA-256(0x00 || leaf), SHA-256(0x01 || left || right). */
export const leafHash = (text) => sha256(joined(0, bytes.encode(text)));
export const nodeHash = (left, right) => sha256(joined(1, left, right));

/** A tree that grows leaf by leaf and keeps only the roots of its full subtrees. */
export class Tree {
  constructor() {
    this.size = 0;
    this.roots = [];
  }

  async add(hash) {
    let node = hash;
    for (let n = this.size; n % 2 === 1; n = (n - 1) / 2) node = await nodeHash(this.roots.pop(), node);
    this.roots.push(node);
    this.size += 1;
  }

  async root() {
    if (this.size === 0) return sha256(new Uint8Array());
    let node = this.roots[this.roots.length - 1];
    for (let i = this.roots.length - 2; i >= 0; i -= 1) node = await nodeHash(this.roots[i], node);
    return node;
  }
}

/**
 * The root that an inclusion proof leads to, for the leaf at `index` (from 0) of a tree of `size` (RFC 9162, 2.1.3.2).
 */
export async function rootOf(leaf, index, size, proof) {
  let fn = index;
  let sn = size - 1;
  let node = leaf;
  for (const step of proof) {
    if (sn === 0) return null;
    if (fn % 2 === 1 || fn === sn) {
      node = await nodeHash(step, node);
      while (fn % 2 === 0 && fn !== 0) {
        fn = Math.floor(fn / 2);
        sn = Math.floor(sn / 2);
      }
    } else {
      node = await nodeHash(node, step);
    }
    fn = Math.floor(fn / 2);
    sn = Math.floor(sn / 2);
  }
  return sn === 0 ? node : null;
}

/**
 * Whether a proof shows that the tree of `size` leaves and root `root` grew from the one of `from` leaves and root
 * `first`, all hashes as bytes (RFC 9162, 2.1.4.2). Every tree grew from the empty one.
 */
export async function grew(from, first, size, root, proof) {
  const same = (a, b) => hex(a) === hex(b);
  if (from === 0) return proof.length === 0;
  if (from === size) return proof.length === 0 && same(first, root);
  if (from > size || proof.length === 0) return false;
  const whole = Number.isInteger(Math.log2(from));
  const [begin, ...steps] = whole ? [first, ...proof] : proof;
  let fn = from - 1;
  let sn = size - 1;
  const up = () => {
    fn = Math.floor(fn / 2);
    sn = Math.floor(sn / 2);
  };
  while (fn % 2 === 1) up();
  let fr = begin;
  let sr = begin;
  for (const step of steps) {
    if (sn === 0) return false;
    if (fn % 2 === 1 || fn === sn) {
      fr = await nodeHash(step, fr);
      sr = await nodeHash(step, sr);
      while (fn % 2 === 0 && fn !== 0) up();
    } else {
      sr = await nodeHash(sr, step);
    }
    up();
  }
  return sn === 0 && same(fr, first) && same(sr, root);
}
