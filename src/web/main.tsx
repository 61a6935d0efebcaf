import { findHost } from './file-host.js'
import { desk } from './worker/callers.js'

// The worker that calculates takes longest to load and the design is asked for: both before the pages themselves.
desk()
const host = findHost()
host.catch(() => {}) // Said by `start`, which is still to come.
const { start } = await import('./start.js')
await start(host)
