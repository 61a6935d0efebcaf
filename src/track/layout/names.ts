/** Names of places for people. */
import { formatNumber } from '../../units/index.js'
import type { Network } from '../network/network.js'
import type { Track, TrackLayout } from './layout.js'

/** Where in the track's part of the design a kind of track is described. */
export const PART_OF = {
  section: 'sections',
  turnout: 'turnouts',
  crossing: 'crossings',
  slip: 'crossings',
  turntable: 'turntables',
} as const

export function trackName(t: Track): string {
  return t.leg && t.kind !== 'turntable' ? `${t.name}.${t.leg}` : t.name
}

/** `main.3, middle`; for turnouts just their name. */
export function placeName(plan: TrackLayout, net: Network, place: number): string {
  const p = net.places[place]!
  const t = plan.tracks[p.track]!
  if (t.fromHub >= 0 || t.toHub >= 0) return trackName(t)
  const share = p.atMm / t.lengthMm
  const where =
    share < 0.001
      ? 'start'
      : share > 0.999
        ? 'end'
        : Math.abs(share - 0.5) < 0.001
          ? 'middle'
          : `${formatNumber(p.atMm / 1000, 3)} m`
  return `${trackName(t)}, ${where}`
}
