import { findHost } from './host.js'
import { desk } from './worker/callers.js'

// The worker that calculates takes longest to load and the design is asked for: both before the pages themselves.
desk()
const host = findHost()
const { start } = await import('./start.js')
await start(await host)
