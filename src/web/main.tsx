import { render } from 'preact'
import { App } from './app.js'
import { findHost } from './host.js'
import { desk, follow } from './state/consequences.js'
import { begin } from './state/design.js'

const place = document.getElementById('app')!

// The worker loads while the design is fetched.
desk()
const host = await findHost()
try {
  await begin(host)
  place.textContent = ''
  render(<App />, place)
  follow()
} catch (error) {
  place.textContent = `The design could not be opened: ${error instanceof Error ? error.message : String(error)}. Reload the page to try again.`
}

// Served by `halfbit open` there is always a server; alone, the pages stay usable without a network.
if (host.kind === 'browser' && import.meta.env.PROD && 'serviceWorker' in navigator)
  void navigator.serviceWorker.register('./offline.js').catch(() => {})
