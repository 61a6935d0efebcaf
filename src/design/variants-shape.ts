/** What a variant may change: any key of the design, described by the same shapes. */
import type { NamedShape, Shape } from '../shape/index.js'

const MOST_VARIANTS = 60

/** @param keys those of the design; its version is that of the file. */
export function variantsShape({ halfbit: _, ...keys }: Readonly<Record<string, Shape>>) {
  return {
    kind: 'named',
    title: 'variants',
    help: 'The same station on another board, driver, supply, scale or firmware build. Each variant has a name and says only what it changes.',
    optional: true,
    maxItems: MOST_VARIANTS,
    of: {
      kind: 'record',
      title: 'variant',
      help: 'Beside its own keys it may have every other key of the design: a mapping changes what it names and leaves the rest, a list or a single value replaces what is there. Captures and bench notes are not taken over from the design, as they show the station that they were taken from; name those of the variant.',
      keys: {
        suits: {
          kind: 'text',
          title: 'whom or what it suits',
          help: 'The table of proofs recommends it for this.',
          maxLength: 200,
          optional: true,
          example: 'clubs with sound locomotives',
        },
        without: {
          kind: 'list',
          title: 'keys it does without',
          help: 'Paths of keys that the design has and this variant has not. What the variant itself says comes after.',
          of: {
            kind: 'text',
            maxLength: 400,
            pattern: '[^.]+(\\.[^.]+)*',
            patternSays: 'a path of keys joined with dots',
            example: 'power.districts.main.fuse',
          },
          optional: true,
          maxItems: 100,
        },
        ...Object.fromEntries(Object.entries(keys).map(([key, shape]) => [key, changeOf(shape)])),
      },
    },
  } as const satisfies NamedShape
}

/** The shape of a change: nothing must be there, and nothing is filled in. Items of a list are whole. */
function changeOf(shape: Shape): Shape {
  const { default: _, ...bare } = { default: undefined, ...shape }
  const given = { ...bare, optional: true } as Shape
  switch (given.kind) {
    case 'record': {
      const keys = Object.entries(given.keys).map(([key, child]) => [key, changeOf(child)])
      return { ...given, keys: Object.fromEntries(keys) }
    }
    case 'named': {
      const { minItems: __, ...rest } = given
      return { ...rest, of: changeOf(given.of) }
    }
    case 'either':
      return { ...given, of: given.of.map(changeOf) }
    default:
      return given
  }
}
