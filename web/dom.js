// Making elements. Text only ever becomes text: strings go in as text nodes, never as markup.

const SVG = 'http://www.w3.org/2000/svg';

function fill(node, attrs, kids) {
  for (const [name, value] of Object.entries(attrs || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === 'function') node.addEventListener(name, value);
    else node.setAttribute(name, value === true ? '' : String(value));
  }
  for (const kid of kids.flat(Infinity)) {
    if (kid !== null && kid !== undefined && kid !== false) node.append(kid instanceof Node ? kid : String(kid));
  }
  return node;
}

/** An HTML element: attributes (a function is a listener for that event), then children, nodes or text. */
export const el = (tag, attrs, ...kids) => fill(document.createElement(tag), attrs, kids);

/** The same for SVG. */
export const svg = (tag, attrs, ...kids) => fill(document.createElementNS(SVG, tag), attrs, kids);

export const byId = (id) => document.getElementById(id);

/** Put `kids` in place of whatever `node` held. */
export function put(node, ...kids) {
  node.replaceChildren();
  return fill(node, null, kids);
}

/** A list of facts: [[name, value], ...]; a fact without a value is left out. */
export function facts(pairs, cls = 'facts') {
  const known = pairs.filter(([, value]) => value !== null && value !== undefined && value !== '');
  return el(
    'dl',
    { class: cls },
    known.map(([name, value]) => el('div', null, el('dt', null, name), el('dd', null, value))),
  );
}

/** A plain table: heads are texts, rows are arrays of cells (text or node). `numbers`: the columns set to the right. */
export function table(heads, rows, { caption = null, numbers = [], cls = '' } = {}) {
  const side = (i) => (numbers.includes(i) ? 'num' : null);
  return el(
    'div',
    { class: 'scroll', tabindex: '0', role: 'group', 'aria-label': caption || heads.join(', ') },
    el(
      'table',
      { class: cls },
      caption && el('caption', null, caption),
      el(
        'thead',
        null,
        el(
          'tr',
          null,
          heads.map((h, i) => el('th', { scope: 'col', class: side(i) }, h)),
        ),
      ),
      el(
        'tbody',
        null,
        rows.map((cells) =>
          el(
            'tr',
            null,
            cells.map((c, i) => el(i === 0 ? 'th' : 'td', { class: side(i), scope: i === 0 ? 'row' : null }, c)),
          ),
        ),
      ),
    ),
  );
}

/** Wait until typing pauses. */
export function paused(ms, fn) {
  let timer = 0;
  return (...args) => {
    clearTimeout(timer);
    timer = setTimeout(() => fn(...args), ms);
  };
}
