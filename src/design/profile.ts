/** Which limits a design is proved against. */
import type { Output } from '../signal/index.js'
import { type Profile, profileOf, senderLimits } from '../standard/index.js'
import type { LoadedDesign } from './load.js'

/** The profile that the design names; the demanded preamble depends on whether the output makes cut-outs. */
export function profileOfDesign({ design }: Pick<LoadedDesign, 'design'>, cutout = false): Profile {
  const { profile, edition } = design.standard
  const choice = { profile, scale: design.scale, cutout }
  return profileOf(edition === undefined ? choice : { ...choice, edition })
}

/** Ones before each packet: as the design says, else the fewest that its standard allows a station to send. */
export function preambleOf(
  loaded: Pick<LoadedDesign, 'design'>,
  { preamble, mode, cutout }: Pick<Output, 'preamble' | 'mode' | 'cutout'>,
): number {
  return preamble ?? senderLimits(profileOfDesign(loaded, cutout).clauses.preamble, mode).min!
}
