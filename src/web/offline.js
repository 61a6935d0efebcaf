// Keeps the pages for use without a network. Version and files are filled in by the build.
const VERSION = 'halfbit-__VERSION__'
const FILES = ['__FILES__']
// Large or seldom used: fetched when the pages are already kept.
const LATER = ['__LATER__']

addEventListener('install', (event) => {
  event.waitUntil(
    caches
      .open(VERSION)
      .then((cache) => cache.addAll(FILES))
      .then(() => skipWaiting()),
  )
})
addEventListener('activate', (event) => {
  const old = async () => {
    for (const name of await caches.keys())
      if (name.startsWith('halfbit-') && name !== VERSION) await caches.delete(name)
    await clients.claim()
  }
  event.waitUntil(old())
  // Nothing waits for these; whoever leaves before they are there gets them the first time they are used.
  void caches.open(VERSION).then(async (cache) => {
    // One after the other: one that a host leaves out does not keep the others away.
    for (const name of LATER) await cache.add(name).catch(() => {})
  })
})
addEventListener('fetch', (event) => {
  if (event.request.method !== 'GET' || new URL(event.request.url).origin !== location.origin) return
  event.respondWith(answer(event.request))
})

async function answer(request) {
  const kept = await caches.match(request, { ignoreSearch: true })
  if (kept) return kept
  const response = await fetch(request)
  if (response.ok && LATER.some((name) => request.url.endsWith(`/${name}`))) {
    const copy = response.clone()
    void caches.open(VERSION).then((cache) => cache.put(request, copy).catch(() => {}))
  }
  return response
}
