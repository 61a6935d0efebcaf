/**
 * Shapes: plain data that describe one part of the design file. Each room exports the shape of its own
 * part; `design/` composes them, validates against them with line numbers, publishes them as JSON Schema,
 * and the workbench builds its forms from them. A shape carries no behaviour.
 */
import type { Dimension } from '../units/index.js'

interface Common {
  /** Label for people, a few words. */
  title?: string
  /** One or two sentences of help: what it means, where to find the value. */
  help?: string
  /** The key may be left out. */
  optional?: boolean
  /** A value as a person would write it in the file. */
  example?: unknown
}

/** A number with a unit, as people write it: `58 us`. Read into the dimension's base unit. */
export interface QuantityShape extends Common {
  kind: 'quantity'
  dimension: Dimension
  /** Inclusive limits in the base unit of the dimension. */
  min?: number
  max?: number
  default?: string
}
export interface NumberShape extends Common {
  kind: 'number'
  integer?: boolean
  min?: number
  max?: number
  default?: number
}
export interface TextShape extends Common {
  kind: 'text'
  /** JavaScript regular expression source the whole text must match; `patternSays` explains it in words. */
  pattern?: string
  patternSays?: string
  maxLength?: number
  default?: string
}
export interface ChoiceShape extends Common {
  kind: 'choice'
  /** Allowed value → label for people. Matching ignores case. */
  choices: Readonly<Record<string, string>>
  default?: string
}
export interface SwitchShape extends Common {
  kind: 'switch'
  default?: boolean
}
export interface ListShape extends Common {
  kind: 'list'
  of: Shape
  minItems?: number
  maxItems?: number
  /** A single item may stand without the list's brackets. */
  orOne?: boolean
}
/** A mapping with known keys. */
export interface RecordShape extends Common {
  kind: 'record'
  keys: Readonly<Record<string, Shape>>
}
/** A mapping with names of the user's own as keys. */
export interface NamedShape extends Common {
  kind: 'named'
  of: Shape
  minItems?: number
  maxItems?: number
}
/** The first alternative whose YAML type fits is used: a text beside a record, for example. */
export interface EitherShape extends Common {
  kind: 'either'
  of: readonly Shape[]
}

export type Shape =
  | QuantityShape
  | NumberShape
  | TextShape
  | ChoiceShape
  | SwitchShape
  | ListShape
  | RecordShape
  | NamedShape
  | EitherShape

type Simplify<T> = { [K in keyof T]: T[K] } & {}
type OptionalKeys<K extends Readonly<Record<string, Shape>>> = {
  [P in keyof K]: K[P] extends { default: unknown } ? never : K[P] extends { optional: true } ? P : never
}[keyof K]

/** The plain value that a valid file yields for a shape; quantities become numbers in base units. */
export type Value<S> = S extends { kind: 'quantity' | 'number' }
  ? number
  : S extends { kind: 'text' }
    ? string
    : S extends { kind: 'choice'; choices: infer C }
      ? keyof C & string
      : S extends { kind: 'switch' }
        ? boolean
        : S extends { kind: 'list'; of: infer O }
          ? Value<O>[]
          : S extends { kind: 'named'; of: infer O }
            ? Record<string, Value<O>>
            : S extends { kind: 'either'; of: readonly (infer O)[] }
              ? Value<O>
              : S extends { kind: 'record'; keys: infer K extends Readonly<Record<string, Shape>> }
                ? Simplify<
                    { [P in Exclude<keyof K, OptionalKeys<K>>]: Value<K[P]> } & {
                      [P in OptionalKeys<K>]?: Value<K[P]>
                    }
                  >
                : never

/** Checks the literal against `Shape` and keeps its exact type for {@link Value}. */
export function shape<const S extends Shape>(s: S): S {
  return s
}
