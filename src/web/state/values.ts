/**
 * The values of the design's text, and how one is set. Apart from the text itself, as reading it takes a parser that the
 * first picture does not need.
 */
import { computed, effect } from '@preact/signals'
import { changeDesign, DESIGN_VERSION, type Path, upgradeDesign } from '../../design/index.js'
import { change, news, openedText, text } from './design.js'
import { parsed } from './parsed.js'

/** The data of the text, as written, under the present names of its keys; undefined while it is no YAML. */
export const raw = computed<unknown>(() => {
  const document = parsed(upgradeDesign(text.value))
  if (document.errors.length > 0) return undefined
  try {
    return document.toJS({ maxAliasCount: 100 })
  } catch {
    return undefined
  }
})

effect(() => {
  if (upgradeDesign(openedText.value) !== openedText.value)
    news.value = `This design file uses names of an earlier version. The first change in a form rewrites it for version ${DESIGN_VERSION}; comments stay.`
})

/** Set one value of the design, or take it out with `undefined`. @returns a sentence when that cannot be done. */
export function setValue(path: Path, value: unknown): string | undefined {
  try {
    change(changeDesign(text.value, [{ path, value }]), path.join('.'))
    return undefined
  } catch (error) {
    return error instanceof Error ? error.message : String(error)
  }
}
