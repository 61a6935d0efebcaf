/** Names of single faults. */

/**
 * How a fault is named: `open-feeder:south.3/A` one wire of a feeder, without `/A` both; `bad-joiner:east/left` one rail of a
 * joint, without `/left` both; `swapped-feeder:south.3`.
 */
export type FaultId = string

export type FaultKind = 'open feeder' | 'bad joiner' | 'swapped feeder'

/** Id of a fault by its kind and place. */
export function faultId(kind: FaultKind, name: string, side?: 'A' | 'B' | 'left' | 'right'): FaultId {
  return `${kind.replace(' ', '-')}:${name}${side ? `/${side}` : ''}`
}
