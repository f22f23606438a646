// The terminal's page without the server: this worker keeps the files of the page, and the last answers the terminal
// was given (the floor, orders, lots seen). The server is always asked first; what was kept is given only when it does
// not answer, and only to the terminal (its requests carry its name), with the time at which it was kept. Entries are
// no business of this worker: web/queue.js.

const SHELL = 'kinwire-shell';
const SEEN = 'kinwire-seen';
const PATIENCE = 4000; /* ms until the server counts as not answering */
const AWAY = 800; /* the same once the terminal has found that it does not */
const SEEN_MOST = 3000;

const FILES = [
  'shop.html',
  'shop.css',
  'kinwire.css',
  'mark.svg',
  'api.js',
  'door.js',
  'dom.js',
  'format.js',
  'queue.js',
  'said.js',
  'serving.js',
  'units.js',
  'words.js',
  'words/en.js',
  'words/es.js',
  'words/en-shop.js',
  'words/es-shop.js',
  'words/en-said.js',
  'words/es-said.js',
  'words/en-people.js',
  'words/es-people.js',
  'words/en-serving.js',
  'words/es-serving.js',
  'shop/accept.js',
  'shop/ask.js',
  'shop/back.js',
  'shop/batch.js',
  'shop/card.js',
  'shop/codes.js',
  'shop/csv.js',
  'shop/cut.js',
  'shop/door.js',
  'shop/floor.js',
  'shop/goods.js',
  'shop/instrument.js',
  'shop/labels.js',
  'shop/leaves.js',
  'shop/lots.js',
  'shop/main.js',
  'shop/open.js',
  'shop/others.js',
  'shop/project.js',
  'shop/runs.js',
  'shop/say.js',
  'shop/scan.js',
  'shop/server.js',
  'shop/stations.js',
  'shop/steps.js',
  'shop/stop.js',
  'shop/stores.js',
  'shop/testing.js',
  'shop/undo.js',
  'shop/where.js',
];

self.addEventListener('install', (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(SHELL);
      await cache.addAll(FILES.map((name) => new Request(name, { cache: 'reload' })));
      await self.skipWaiting();
    })(),
  );
});

self.addEventListener('activate', (event) => event.waitUntil(self.clients.claim()));

async function keep(name, request, answer) {
  const cache = await caches.open(name);
  if (name === SHELL) return cache.put(request.url.split('?')[0], answer);
  const headers = new Headers(answer.headers);
  headers.set('Kinwire-Kept', new Date().toISOString());
  await cache.put(request.url, new Response(await answer.blob(), { status: answer.status, headers }));
  const keys = await cache.keys();
  await Promise.all(keys.slice(0, Math.max(0, keys.length - SEEN_MOST)).map((key) => cache.delete(key)));
  return undefined;
}

async function kept(name, request) {
  const cache = await caches.open(name);
  return cache.match(request.url, { ignoreSearch: name === SHELL, ignoreVary: true });
}

async function serverFirst(event, name) {
  const { request } = event;
  try {
    const answer = await fetch(request, {
      signal: AbortSignal.timeout(request.headers.has('Kinwire-Away') ? AWAY : PATIENCE),
    });
    if (answer.ok) event.waitUntil(keep(name, request, answer.clone()));
    return answer;
  } catch (cause) {
    const old = await kept(name, request);
    if (old) return old;
    throw cause;
  }
}

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== 'GET' || origin !== self.location.origin) return;
  if (/^\/api\/(floor|orders|me|lots\/[^/]+|entries|things\/(heat|run|instrument)\/[^/]+)$/.test(pathname)) {
    if (request.headers.has('Kinwire-Terminal')) event.respondWith(serverFirst(event, SEEN));
  } else if (/\.(html|css|js|svg)$/.test(pathname) && pathname !== '/sw.js')
    event.respondWith(serverFirst(event, SHELL));
});
