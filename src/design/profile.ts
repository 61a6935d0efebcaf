/** Which limits a design is proved against. */
import { type Profile, profileOf } from '../standard/index.js'
import type { LoadedDesign } from './load.js'

/** The profile that the design names; the demanded preamble depends on whether the output makes cut-outs. */
export function profileOfDesign({ design }: Pick<LoadedDesign, 'design'>, cutout = false): Profile {
  const { profile, edition } = design.standard
  const choice = { profile, scale: design.scale, cutout }
  return profileOf(edition === undefined ? choice : { ...choice, edition })
}
