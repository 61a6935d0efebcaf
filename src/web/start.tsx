/** Opens the design and draws the workbench. */
import { render } from 'preact'
import { App } from './app.js'
import type { FileHost } from './file-host.js'
import { keepFocus } from './shell/keep-focus.js'
import { typesetScreen } from './shell/typeset.js'
import { followRuns } from './state/automatic.js'
import { follow } from './state/consequences.js'
import { begin } from './state/design.js'

/** Draws what the host gives and follows it, or says why there is none. */
export async function start(found: Promise<FileHost>): Promise<void> {
  const place = document.getElementById('app')!
  let host: FileHost
  try {
    host = await found
    await begin(host)
    // Asked before anything is drawn, so that worker and page do their work at the same time.
    follow()
    followRuns()
    place.textContent = ''
    typesetScreen()
    render(<App />, place)
    keepFocus(place)
  } catch (error) {
    place.textContent = `The design could not be opened: ${error instanceof Error ? error.message : String(error)}. Reload the page to try again.`
    return
  }
  // Served by `halfbit open` there is always a server; alone, the pages stay usable without a network.
  if (host.kind === 'browser' && import.meta.env.PROD && 'serviceWorker' in navigator)
    void navigator.serviceWorker.register('./offline.js').catch(() => {})
}
