/** Pictures of choices, as lines in a box of 100 by 50, made from the same data as their figures. */
import { driverPart } from '../power/index.js'
import type { QuestionId } from './questions.js'
import { SHAPES } from './shapes.data.js'

export type Line = readonly (readonly [number, number])[]

const box = (x: number, y: number, width: number, height: number): Line => [
  [x, y],
  [x + width, y],
  [x + width, y + height],
  [x, y + height],
  [x, y],
]

/** The lines of a choice's picture; undefined where the question has none. */
export function pictureOf(question: QuestionId, choice: string): readonly Line[] | undefined {
  if (question === 'shape') return SHAPES.find((s) => s.id === choice)?.lines
  if (question === 'driver') return driverLines(choice)
  return undefined
}

/** Its packages, with the inputs at the left and the two rails at the right. */
function driverLines(name: string): readonly Line[] | undefined {
  const part = driverPart(name)
  if (!part) return undefined
  // Half bridges come in two packages.
  const packages =
    part.bridgesPerPackage < 1 ? [box(34, 3, 32, 20), box(34, 27, 32, 20)] : [box(34, 6, 32, 38)]
  const inputs = part.inputs === 'pair' ? [13, 37] : [25]
  return [
    ...packages,
    ...inputs.map(
      (y): Line => [
        [10, y],
        [34, y],
      ],
    ),
    ...[13, 37].map(
      (y): Line => [
        [66, y],
        [90, y],
      ],
    ),
  ]
}
