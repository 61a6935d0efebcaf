/** What the drivers of two districts have in common. */
import type { Network } from '../network/network.js'

/** Both hang on the same channels of one driver. */
export function onOneBridge(net: Network, [a, b]: readonly [number, number]): boolean {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  return (
    one !== undefined && one.driver === other?.driver && one.channels.some((c) => other.channels.includes(c))
  )
}

/**
 * Whether the grounds of both districts' drivers are one, through one supply or through the controller; `apart` where supplies are
 * two and the inputs of one driver at least are isolated.
 */
export function groundsOf(net: Network, [a, b]: readonly [number, number]): 'one' | 'apart' | 'not known' {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  if (!one || !other) return 'not known'
  if (one.supply === other.supply) return 'one'
  if (one.isolated || other.isolated) return 'apart'
  return one.controlled && other.controlled ? 'one' : 'not known'
}
