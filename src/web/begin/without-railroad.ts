/** A begun design as it is before its railroad is drawn. */
import { parse } from 'yaml'
import { changeDesign } from '../../design/index.js'
import type { Begun } from '../worker/calls.js'

/** Takes out the track with its comments, and the places of trains that would stand nowhere. */
export function withoutRailroad({ text, parts }: NonNullable<Begun['started']>): string {
  const { fromLine, text: part } = parts.shape
  const lines = text.split('\n')
  lines.splice(fromLine - 1, part.split('\n').length)
  const rest = lines.join('\n').replace(/\n{3,}/g, '\n\n')
  const { rollingStock } = parse(rest) as { rollingStock?: Record<string, Record<string, unknown>> }
  const changes = Object.entries(rollingStock ?? {}).flatMap(([name, own]) =>
    ['section', 'at'].filter((key) => key in own).map((key) => ({ path: ['rollingStock', name, key] })),
  )
  return changeDesign(rest, changes)
}
