// Keeps the pages for use without a network. Version and files are filled in by the build.
const VERSION = 'halfbit-__VERSION__'
const FILES = ['__FILES__']

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
})
addEventListener('fetch', (event) => {
  if (event.request.method !== 'GET' || new URL(event.request.url).origin !== location.origin) return
  event.respondWith(
    caches.match(event.request, { ignoreSearch: true }).then((kept) => kept ?? fetch(event.request)),
  )
})
