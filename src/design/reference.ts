/** Reference pages of our files in Markdown, made from the shapes. */
import { scenarioShape } from '../bench/index.js'
import type { Shape } from '../shape/index.js'
import { DIMENSIONS } from '../units/index.js'
import { isRequired } from './json-schema.js'
import { designShape, stationShape } from './schema.js'
import { variantsShape } from './variants-shape.js'

/** Every key of a design file with what it means, what it takes and its default. */
export function designReference(): string {
  // What a variant may change is every key above; the page says it once.
  const whole: Shape = { ...designShape, keys: { ...stationShape.keys, variants: variantsShape({}) } }
  return page(whole, [
    '# The design file',
    '',
    'One YAML file describes one station and its railroad. Quantities are written with their unit, as people write',
    'them: `58 us`, `16 MHz`, `1.2 A`, `14 AWG`. `halfbit check FILE` names every problem with its line; an editor',
    'that knows JSON Schema can use `schema/halfbit-design.schema.json`. This page is made from the same tables that',
    'check the file.',
  ])
}

/** The same of a scenario file. */
export function scenarioReference(): string {
  return page(scenarioShape, [
    '# The scenario file',
    '',
    'One YAML file says what happens to a station on the bench, and what is expected of it; `scenarios.md` shows how',
    'to write one. Quantities are written with their unit: `20 ms`, `50 mOhm`, `40 %`. Each entry of `acts` has one time',
    'and one act, each entry of `expect` one expectation. An editor that knows JSON Schema can use',
    '`schema/halfbit-scenario.schema.json`. This page is made from the same tables that check the file.',
  ])
}

function page(whole: Shape, head: readonly string[]): string {
  const lines = [...head, '', '| key | meaning | takes | default |', '|---|---|---|---|']
  const walk = (shape: Shape, path: string) => {
    if (path !== '') lines.push(row(path, shape))
    if (shape.kind === 'record') {
      for (const [key, child] of Object.entries(shape.keys)) walk(child, path ? `${path}.${key}` : key)
    } else if (shape.kind === 'named') inside(shape.of, `${path}.NAME`)
    else if (shape.kind === 'list') inside(shape.of, `${path}[]`)
    else if (shape.kind === 'either') for (const s of shape.of) inside(s, path)
  }
  const inside = (shape: Shape, path: string) => {
    if (shape.kind === 'record')
      for (const [key, child] of Object.entries(shape.keys)) walk(child, `${path}.${key}`)
    else if (shape.kind === 'named' || shape.kind === 'list' || shape.kind === 'either') walk(shape, path)
  }
  walk(whole, '')
  return `${lines.join('\n')}\n`
}

function row(path: string, shape: Shape): string {
  const words = [shape.title, shape.help].filter(Boolean).join('. ')
  const need = isRequired(shape) ? 'must be there' : ''
  const given = 'default' in shape && shape.default !== undefined ? `\`${shape.default}\`` : need
  return `| \`${path}\` | ${cell(words)} | ${cell(takes(shape))} | ${given} |`
}

function takes(shape: Shape): string {
  const example =
    shape.example === undefined ? '' : `, such as \`${JSON.stringify(shape.example).replace(/^"|"$/g, '')}\``
  switch (shape.kind) {
    case 'quantity':
      return `${shape.dimension}${example || `, such as \`${DIMENSIONS[shape.dimension].example}\``}`
    case 'number': {
      const range = shape.min !== undefined && shape.max !== undefined ? ` ${shape.min} to ${shape.max}` : ''
      return `${shape.integer ? 'whole number' : 'number'}${range}${example}`
    }
    case 'text':
      return `${shape.patternSays ?? 'text'}${example}`
    case 'choice':
      return Object.entries(shape.choices)
        .map(([value, label]) => `\`${value}\` ${label}`)
        .join('; ')
    case 'switch':
      return '`true` or `false`'
    case 'list':
      return shape.orOne ? 'one, or a list' : 'list'
    case 'record':
      return 'mapping'
    case 'named':
      return 'mapping of names of your own'
    case 'either':
      return shape.of.map(takes).join(', or ')
  }
}

function cell(text: string): string {
  return text.replace(/\|/g, '\\|').replace(/\n/g, ' ')
}
