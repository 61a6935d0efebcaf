/** Which stop is open: the address tells, so that back and forward work. */
import { signal } from '@preact/signals'
import { STAGES, type StageId } from '../stages.js'

export const route = signal<StageId>(read())

function read(): StageId {
  const name = globalThis.location?.hash.replace(/^#\/?/, '') ?? ''
  return STAGES.find((s) => s.id === name)?.id ?? 'proof'
}

if (typeof addEventListener === 'function') addEventListener('hashchange', () => (route.value = read()))

export function go(stage: StageId): void {
  location.hash = `/${stage}`
}
