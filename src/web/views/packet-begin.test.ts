import { expect, it } from 'vitest'
import { decodePacket, encodePacket, KINDS, packetFromFields } from '../../packet/index.js'
import { beginningOf } from './packet-begin.js'

it.each(KINDS.map((k) => [k.kind, k] as const))('%s begins as a packet without faults', (name, kind) => {
  const given = Object.fromEntries(
    Object.entries(beginningOf(kind)).map(([field, text]) => [field, text === '' ? undefined : text]),
  )
  const bytes = encodePacket(packetFromFields(name, given))
  const mode = kind.about === 'service mode' ? 'service' : 'operations'
  const { findings } = decodePacket(bytes, { mode })
  expect(findings.filter((f) => f.kind !== 'note')).toEqual([])
})
