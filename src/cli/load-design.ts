/** A design file from disk. */
import { readFileSync } from 'node:fs'
import { type LoadedDesign, loadDesign } from '../design/index.js'
import { type Profile, profileOf } from '../standard/index.js'
import { InputError } from '../units/index.js'

/** @throws InputError with the file's problems, or when it is no UTF-8. */
export function readDesign(path: string): LoadedDesign & { text: string } {
  const bytes = readFileSync(path)
  let text: string
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    throw new InputError('not UTF-8; expected a design file in YAML', { file: path })
  }
  return { ...loadDesign(text, path), text }
}

/** The profile that the design names; its preamble depends on whether an output makes cut-outs. */
export function profileOfDesign({ design }: LoadedDesign, cutout = false): Profile {
  const { profile, edition } = design.standard
  const choice = { profile, scale: design.scale, cutout }
  return profileOf(edition === undefined ? choice : { ...choice, edition })
}
