/** What the fields of each kind of packet hold before anyone has typed: always a packet that can be sent. */
import type { KindInfo } from '../../packet/index.js'

const USUAL: Record<string, string> = {
  address: '3',
  step: '12',
  of: '28',
  cv: '29',
  value: '6',
  board: '1',
  output: '0',
  aspect: '0',
  state: '1',
  consist: '5',
  minute: '30',
  hour: '18',
  weekday: '5',
  factor: '4',
  day: '1',
  month: '6',
  year: '2026',
  register: '1',
}

/** Where one of several fields must be there, or the usual value does not fit. */
const OF_KIND: Record<string, Record<string, string>> = {
  functions: { group: '0', on: '0' },
  restrict: { step: '14' },
  'cv-short': { which: 'CV23', data: '5' },
  'cv-extended': { op: 'read' },
  accessory: { pair: '0' },
  poll: { pair: '0' },
}

export function beginningOf(kind: KindInfo): Record<string, string> {
  const begin: Record<string, string> = {}
  for (const field of kind.fields) {
    if (field.flag) continue
    const own = OF_KIND[kind.kind]?.[field.name]
    begin[field.name] = own ?? (field.optional ? '' : (USUAL[field.name] ?? '0'))
  }
  return begin
}
