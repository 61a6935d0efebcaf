/** Shapes of railroads to begin with. Sizes are at 1:87 and are scaled; common practice, no source. */
export type ShapeId = 'oval' | 'line' | 'shelf' | 'loop' | 'yard'

export interface ShapeInfo {
  id: ShapeId
  name: string
  facts: readonly string[]
  /** Length and depth, mm at 1:87. */
  usualMm: readonly [number, number]
  /** Least length beside the depth, and least length at 1:87, mm. */
  leastRatio: number
  leastMm: number
  /** Kinds of train and how many run. */
  usualTrains: readonly (readonly [string, number])[]
  /** Its drawing, in a box of 100 by 50: lines of x and y. */
  lines: readonly (readonly (readonly [number, number])[])[]
}

const round = (cx: number, cy: number, r: number, from: number, to: number) =>
  Array.from({ length: 9 }, (_, i): [number, number] => {
    const angle = ((from + ((to - from) * i) / 8) * Math.PI) / 180
    return [cx + r * Math.cos(angle), cy + r * Math.sin(angle)]
  })

export const SHAPES: readonly ShapeInfo[] = [
  {
    id: 'oval',
    name: 'oval',
    facts: ['round and round', 'no turnouts'],
    usualMm: [2500, 1100],
    leastRatio: 1.25,
    leastMm: 900,
    usualTrains: [
      ['local', 1],
      ['goods', 1],
    ],
    lines: [[[28, 42], [72, 42], ...round(72, 25, 17, 90, -90), [28, 8], ...round(28, 25, 17, -90, -270)]],
  },
  {
    id: 'line',
    name: 'point to point',
    facts: ['two ends', 'two tracks at each'],
    usualMm: [6000, 500],
    leastRatio: 3,
    leastMm: 2600,
    usualTrains: [
      ['local', 1],
      ['railcar', 1],
    ],
    lines: [
      [
        [4, 34],
        [28, 34],
        [44, 20],
        [56, 20],
        [72, 34],
        [96, 34],
      ],
      [
        [4, 42],
        [20, 42],
        [28, 34],
      ],
      [
        [72, 34],
        [80, 42],
        [96, 42],
      ],
    ],
  },
  {
    id: 'shelf',
    name: 'shelf',
    facts: ['a run-round loop', 'two sidings'],
    usualMm: [4000, 450],
    leastRatio: 4,
    leastMm: 2600,
    usualTrains: [
      ['shunter', 1],
      ['railcar', 1],
    ],
    lines: [
      [
        [4, 28],
        [96, 28],
      ],
      [
        [26, 28],
        [34, 16],
        [54, 16],
        [62, 28],
      ],
      [
        [72, 28],
        [80, 38],
        [96, 38],
      ],
    ],
  },
  {
    id: 'loop',
    name: 'return loop',
    facts: ['trains turn round', 'its polarity is switched'],
    usualMm: [4500, 1500],
    leastRatio: 1.6,
    leastMm: 2400,
    usualTrains: [
      ['local', 1],
      ['railcar', 1],
    ],
    lines: [[[4, 42], [46, 42], [60, 38], ...round(72, 24, 18, 130, -150), [46, 42]]],
  },
  {
    id: 'yard',
    name: 'yard',
    facts: ['tracks side by side', 'one ladder of turnouts'],
    usualMm: [4000, 500],
    leastRatio: 2.5,
    leastMm: 2000,
    usualTrains: [
      ['shunter', 2],
      ['goods', 1],
    ],
    lines: [
      [
        [4, 40],
        [96, 40],
      ],
      [
        [24, 40],
        [36, 30],
        [96, 30],
      ],
      [
        [36, 30],
        [48, 20],
        [96, 20],
      ],
      [
        [48, 20],
        [60, 10],
        [96, 10],
      ],
    ],
  },
]

export function shapeOf(id: ShapeId): ShapeInfo {
  return SHAPES.find((s) => s.id === id)!
}
