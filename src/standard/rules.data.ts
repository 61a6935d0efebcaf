/**
 * Figures of the standards that are no limit of one clause: counts, ranges of addresses, what a decoder may refuse.
 * With the clauses they are the one table that the reader, its judgements and the drawings take numbers from.
 */
import type { FactStatus, Source } from './clause.js'
import type { ProfileChoice } from './profile.js'
import { SCALES } from './scale.js'

export const RULE_IDS = [
  'preamble-rejected',
  'preamble-cutout',
  'stream-after-end-bit',
  'reset-guard-first',
  'reset-guard-last',
  'same-address-first',
  'same-address-last',
  'long-packet-first',
  'long-packet-last',
  'start-up-resets',
  'start-up-idles',
  'rms-ceiling',
  'service-current-limit',
  'acknowledgement-rise',
  'acknowledgement-shortest',
  'acknowledgement-longest',
] as const

export type RuleId = (typeof RULE_IDS)[number]

export interface Rule {
  id: RuleId
  /** What the figure is, in a few words. */
  says: string
  value: number
  unit: string
  source: Source
}

type Choice = Required<ProfileChoice>

function source(document: string, edition: string, section: string, status: FactStatus): Source {
  return { document, edition, section, status }
}

/** The rules of one profile, edition and scale; one that the edition does not have is absent. */
export function buildRules(c: Choice): Readonly<Partial<Record<RuleId, Rule>>> {
  const s92 = (section: string) => source('S-9.2', '2004', section, 'confirmed')
  const service = (section: string) => source('S-9.2.3', '2012', section, 'confirmed')
  const draft = source('S-9.2.1.1', 'draft 2021', '1.1', 'confirmed')
  const startUp = source('RP-9.2.4', '', 'A', 'confirmed')
  const cutout =
    c.profile === 'rcn' && c.edition === '2013'
      ? { value: 16, source: source('NEM 671', '2014', '4.1', 'confirmed') }
      : { value: 17, source: source('RCN-211', '2019', 'preamble with cut-out', 'from memory') }
  const rows: Rule[] = [
    rule('preamble-rejected', 'decoders must refuse a packet after fewer ones', 10, 'bits', s92('A')),
    rule('preamble-cutout', 'least preamble with the cut-out', cutout.value, 'bits', cutout.source),
    rule('stream-after-end-bit', 'the signal goes on after an end bit for', 26, 'us', s92('note 3')),
    ...(c.profile === 'nmra'
      ? [
          rule('reset-guard-first', 'first bytes barred after a reset, from', 100, 'byte', s92('B')),
          rule('reset-guard-last', 'first bytes barred after a reset, to', 127, 'byte', s92('B')),
          rule('same-address-first', 'addresses with a least gap, from', 112, 'byte', s92('note 11')),
          rule('same-address-last', 'addresses with a least gap, to', 127, 'byte', s92('note 11')),
        ]
      : [
          rule('reset-guard-first', 'first bytes barred after a reset, from', 100, 'byte', RCN_211),
          rule('reset-guard-last', 'first bytes barred after a reset, to', 127, 'byte', RCN_211),
        ]),
    rule('long-packet-first', 'first bytes of longer packets, from', 253, 'byte', draft),
    rule('long-packet-last', 'first bytes of longer packets, to', 254, 'byte', draft),
    rule('start-up-resets', 'resets when power is applied', 20, 'packets', startUp),
    rule('start-up-idles', 'idles after those', 10, 'packets', startUp),
    rule('service-current-limit', 'current a service track may carry on', 0.25, 'A', service('B')),
    rule('acknowledgement-rise', 'least rise of an acknowledgement', 0.06, 'A', service('D')),
    rule('acknowledgement-shortest', 'shortest acknowledgement', 5000, 'us', service('D')),
    rule('acknowledgement-longest', 'longest acknowledgement', 7000, 'us', service('D')),
  ]
  const rms = rmsCeiling(c)
  if (rms) rows.push(rms)
  return Object.fromEntries(rows.map((r) => [r.id, r]))
}

const RCN_211 = source('RCN-211', '2019', 'reset', 'from memory')

function rule(id: RuleId, says: string, value: number, unit: string, from: Source): Rule {
  return { id, says, value, unit, source: from }
}

/**
 * RMS of the track voltage. NEM 670:2013 4.2a: NEM 630 nominal + 2 V (8, 12, 16 V by gauge, NEM 630:1982 2.1).
 * S-9.1:2006 C adds 2 V to the voltage of S-9, of which only 12 V is known, as quoted (S-9 I.A).
 */
function rmsCeiling(c: Choice): Rule | undefined {
  if (c.profile === 'nmra' && c.edition === '2020') return undefined
  if (c.profile === 'nmra') {
    const from = source('S-9.1', '2006', 'C, with 12 V of S-9', 'from memory')
    return rule('rms-ceiling', 'highest RMS track voltage', 14, 'V', from)
  }
  const { gaugeMm } = SCALES[c.scale]
  const volt = gaugeMm <= 6.5 ? 10 : gaugeMm < 32 ? 14 : 18
  const from = source('NEM 670', '2013', '4.2a, with NEM 630:1982 2.1', 'confirmed')
  return rule('rms-ceiling', 'highest RMS track voltage', volt, 'V', from)
}
