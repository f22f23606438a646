// A body taken apart into its single values, for reading and for putting one of them right.

const ENTERED = new Set(['key']);

/** The leaves of a body: [[path, value], ...]. */
export function leaves(body, path = []) {
  if (body === null || typeof body !== 'object') return [[path, body]];
  return Object.entries(body).flatMap(([name, value]) => (ENTERED.has(name) ? [] : leaves(value, [...path, name])));
}
