/** Labels in a chart: each where it covers no other, and as few lines as can be. */

export interface LabelBox {
  x: number
  y: number
  width: number
  height: number
}

export interface Candidate extends LabelBox {
  /** Added to what it covers: the larger, the less it is liked for itself. */
  cost: number
}

export type Segment = readonly [x1: number, y1: number, x2: number, y2: number]

const COVERS_LABEL = 1000
/** More than a letter in a free place costs: no label is struck by a line while there is one. */
const COVERS_LINE = 22
/** To a line at its side, px: nearer, and a label could as well be that line's. */
const CLEAR = 4

/**
 * One box for each label, in the order given; earlier labels choose first.
 * @param candidates of each label, at least one.
 * @param lines that should not run behind a label.
 */
export function placeLabels<T extends Candidate>(
  candidates: readonly (readonly T[])[],
  lines: readonly Segment[],
  taken: readonly LabelBox[] = [],
): T[] {
  const placed: LabelBox[] = [...taken]
  return candidates.map((list) => {
    let best = list[0]!
    let least = Number.POSITIVE_INFINITY
    for (const box of list) {
      const covered = placed.filter((other) => overlaps(box, other)).length
      const room = { x: box.x - CLEAR, y: box.y, width: box.width + 2 * CLEAR, height: box.height }
      const struck = covered > 0 ? 0 : lines.filter((line) => crosses(room, line)).length
      const cost = box.cost + COVERS_LABEL * covered + COVERS_LINE * struck
      if (cost < least) {
        least = cost
        best = box
      }
    }
    placed.push(best)
    return best
  })
}

function overlaps(a: LabelBox, b: LabelBox): boolean {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height
}

/** Whether a line runs through a box (Liang and Barsky's clipping). */
export function crosses({ x, y, width, height }: LabelBox, [x1, y1, x2, y2]: Segment): boolean {
  const [dx, dy] = [x2 - x1, y2 - y1]
  let [from, to] = [0, 1]
  const edges = [
    [-dx, x1 - x],
    [dx, x + width - x1],
    [-dy, y1 - y],
    [dy, y + height - y1],
  ] as const
  for (const [slope, room] of edges) {
    if (slope === 0) {
      if (room < 0) return false
      continue
    }
    const at = room / slope
    if (slope < 0) from = Math.max(from, at)
    else to = Math.min(to, at)
    if (from > to) return false
  }
  return true
}
