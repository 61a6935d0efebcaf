/** Which stop is open: the address tells, so that back and forward work. */
import { signal } from '@preact/signals'
import { STOPS, type StopId } from '../stops.js'

export const route = signal<StopId>(read())

function read(): StopId {
  const name = globalThis.location?.hash.replace(/^#\/?/, '') ?? ''
  return STOPS.find((s) => s.id === name)?.id ?? 'proof'
}

if (typeof addEventListener === 'function') addEventListener('hashchange', () => (route.value = read()))

export function go(stop: StopId): void {
  location.hash = `/${stop}`
}
