/** Our files as JSON Schema 2020-12, for editors. Made from the shapes, so that they cannot differ from them. */
import { scenarioShape } from '../bench/index.js'
import type { Shape } from '../shape/index.js'
import { DIMENSIONS } from '../units/index.js'
import { designShape } from './schema.js'

const DIALECT = 'https://json-schema.org/draft/2020-12/schema'

export function designJsonSchema(): Record<string, unknown> {
  return { $schema: DIALECT, title: 'Halfbit design file', ...schemaOf(designShape) }
}

export function scenarioJsonSchema(): Record<string, unknown> {
  return { $schema: DIALECT, title: 'Halfbit scenario file', ...schemaOf(scenarioShape) }
}

/** Shapes whose title is that of the schema. */
const WHOLE: readonly Shape[] = [designShape, scenarioShape]

function schemaOf(shape: Shape): Record<string, unknown> {
  const described: Record<string, unknown> = {}
  if (shape.title !== undefined && !WHOLE.includes(shape)) described['title'] = shape.title
  if (shape.help !== undefined) described['description'] = shape.help
  if ('default' in shape && shape.default !== undefined) described['default'] = shape.default
  if (shape.example !== undefined) described['examples'] = [shape.example]
  return { ...described, ...core(shape) }
}

function core(shape: Shape): Record<string, unknown> {
  switch (shape.kind) {
    case 'quantity': {
      const units = Object.keys(DIMENSIONS[shape.dimension].units).filter(Boolean)
      const bare = Object.hasOwn(DIMENSIONS[shape.dimension].units, '')
      const list = units.map((u) => u.replace(/[.*+?^${}()|[\]\\/]/g, '\\$&'))
      if (shape.dimension === 'length' || shape.dimension === 'area') list.push('AWG')
      const unit = `(${list.join('|')})${bare ? '?' : ''}`
      return {
        type: bare ? ['string', 'number'] : 'string',
        pattern: `^\\s*[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]+)?\\s*${unit}\\s*$`,
      }
    }
    case 'number':
      return { type: shape.integer ? 'integer' : 'number', ...limits(shape) }
    case 'text':
      return {
        type: ['string', 'number'],
        ...(shape.pattern ? { pattern: `^(?:${shape.pattern})$` } : {}),
        ...(shape.maxLength ? { maxLength: shape.maxLength } : {}),
      }
    case 'choice':
      return { enum: Object.keys(shape.choices).flatMap((c) => (/^\d+$/.test(c) ? [c, Number(c)] : [c])) }
    case 'switch':
      return { enum: [true, false, 'yes', 'no', 'on', 'off'] }
    case 'list': {
      const list = { type: 'array', items: schemaOf(shape.of), ...sizes(shape, 'Items') }
      return shape.orOne ? { anyOf: [schemaOf(shape.of), list] } : list
    }
    case 'named':
      return { type: 'object', additionalProperties: schemaOf(shape.of), ...sizes(shape, 'Properties') }
    case 'either':
      return { anyOf: shape.of.map(schemaOf) }
    case 'record': {
      const required = Object.entries(shape.keys)
        .filter(([, s]) => isRequired(s))
        .map(([key]) => key)
      return {
        type: 'object',
        properties: Object.fromEntries(Object.entries(shape.keys).map(([key, s]) => [key, schemaOf(s)])),
        ...(required.length > 0 ? { required } : {}),
        additionalProperties: false,
      }
    }
  }
}

function limits({ min, max }: { min?: number; max?: number }): Record<string, number> {
  return { ...(min === undefined ? {} : { minimum: min }), ...(max === undefined ? {} : { maximum: max }) }
}

function sizes(
  { minItems, maxItems }: { minItems?: number; maxItems?: number },
  of: string,
): Record<string, number> {
  return { ...(minItems ? { [`min${of}`]: minItems } : {}), ...(maxItems ? { [`max${of}`]: maxItems } : {}) }
}

/** A key must be there unless it is optional, has a default, or all that is in it has. */
export function isRequired(shape: Shape): boolean {
  if (shape.optional || ('default' in shape && shape.default !== undefined)) return false
  return shape.kind !== 'record' || Object.values(shape.keys).some(isRequired)
}
