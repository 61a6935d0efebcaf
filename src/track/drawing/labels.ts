/** Places texts on a drawing so that none lies on a line or on another text. */

export interface Box {
  /** Middle. */
  x: number
  y: number
  w: number
  h: number
}

export interface Spot {
  x: number
  y: number
  /** Unit normal of the line there. */
  nx: number
  ny: number
}

export interface Placed extends Box {
  /** From the line to the text, where it is not beside it. */
  leader?: [number, number, number, number]
}

type Segment = readonly [number, number, number, number]

const CELL = 32
/** Between a text and a line or another text, px. */
const CLEAR = 2
const DISTANCES = [26, 36, 48, 62, 80, 100]
const DIRECTIONS = Array.from({ length: 16 }, (_, i) => (i * Math.PI) / 8)

export class Labels {
  readonly #width: number
  readonly #top: number
  readonly #bottom: number
  readonly #segments = new Map<number, Segment[]>()
  readonly #boxes: Box[] = []

  /** Texts stay between 2 px and `width` − 2 px, `top` and `bottom`. */
  constructor(width: number, top: number, bottom: number) {
    this.#width = width
    this.#top = top
    this.#bottom = bottom
  }

  /** A drawn line that texts keep off; `half` of its width. */
  addLine(points: readonly (readonly [number, number])[], half: number): void {
    for (let i = 1; i < points.length; i++) {
      const [x1, y1] = points[i - 1]!
      const [x2, y2] = points[i]!
      // A thick line is as wide in every direction: good enough for keeping off.
      const pieces = Math.max(1, Math.ceil(Math.hypot(x2 - x1, y2 - y1) / CELL))
      for (let k = 0; k < pieces; k++) {
        const at = (s: number): [number, number] => [x1 + (x2 - x1) * s, y1 + (y2 - y1) * s]
        const [a, b] = [at(k / pieces), at((k + 1) / pieces)]
        const segment: Segment = [a[0], a[1], b[0], b[1]]
        const reach = half + CLEAR
        for (let cx = cell(Math.min(a[0], b[0]) - reach); cx <= cell(Math.max(a[0], b[0]) + reach); cx++)
          for (let cy = cell(Math.min(a[1], b[1]) - reach); cy <= cell(Math.max(a[1], b[1]) + reach); cy++) {
            const list = this.#segments.get(key(cx, cy))
            if (list) list.push(segment)
            else this.#segments.set(key(cx, cy), [segment])
          }
      }
    }
  }

  addBox(box: Box): void {
    this.#boxes.push(box)
  }

  /** A free place for a text beside one of the spots; it is then taken. `undefined`: there is none. */
  placeBeside(spots: readonly Spot[], w: number, h: number): Placed | undefined {
    for (const gap of [4, 9])
      for (const { x, y, nx, ny } of spots)
        for (const side of [1, -1]) {
          const away = gap + (w / 2) * Math.abs(nx) + (h / 2) * Math.abs(ny)
          const box = { x: x + side * nx * away, y: y + side * ny * away, w, h }
          if (this.#free(box)) return this.#take(box)
        }
    return undefined
  }

  /** A free place for a text near one of the spots, at the end of a thin line; it is then taken. */
  placeNear(spots: readonly Spot[], w: number, h: number): Placed | undefined {
    let best: { placed: Placed; cost: number } | undefined
    for (const { x, y } of spots)
      for (const far of DISTANCES)
        for (const angle of DIRECTIONS) {
          const [dx, dy] = [Math.cos(angle), Math.sin(angle)]
          const box = {
            x: x + dx * (far + (w / 2) * Math.abs(dx)),
            y: y + dy * (far + (h / 2) * Math.abs(dy)),
            w,
            h,
          }
          if (!this.#free(box)) continue
          const end = edgeOf(box, x, y)
          const leader: Segment = [x, y, end[0], end[1]]
          if (this.#boxes.some((b) => crosses(leader, b, 1))) continue
          const cost = far + 25 * this.#crossed(leader)
          if (!best || cost < best.cost) best = { placed: { ...box, leader: [...leader] }, cost }
        }
    return best && this.#take(best.placed)
  }

  #take(placed: Placed): Placed {
    this.#boxes.push(placed)
    // Later texts keep off the thin line too.
    if (placed.leader) {
      const [x1, y1, x2, y2] = placed.leader
      this.addLine(
        [
          [x1 + (x2 - x1) * 0.1, y1 + (y2 - y1) * 0.1],
          [x2, y2],
        ],
        1,
      )
    }
    return placed
  }

  #free(box: Box): boolean {
    const { x, y, w, h } = box
    if (x - w / 2 < 2 || x + w / 2 > this.#width - 2) return false
    if (y - h / 2 < this.#top || y + h / 2 > this.#bottom) return false
    for (const b of this.#boxes)
      if (Math.abs(b.x - x) < (b.w + w) / 2 + CLEAR && Math.abs(b.y - y) < (b.h + h) / 2 + CLEAR) return false
    for (let cx = cell(x - w / 2); cx <= cell(x + w / 2); cx++)
      for (let cy = cell(y - h / 2); cy <= cell(y + h / 2); cy++)
        for (const s of this.#segments.get(key(cx, cy)) ?? []) if (crosses(s, box, CLEAR + 1)) return false
    return true
  }

  /** How many lines a thin line crosses beyond its own start. */
  #crossed([x1, y1, x2, y2]: Segment): number {
    let count = 0
    const steps = Math.ceil(Math.hypot(x2 - x1, y2 - y1) / 4)
    let inside = true
    for (let i = 2; i <= steps; i++) {
      const x = x1 + ((x2 - x1) * i) / steps
      const y = y1 + ((y2 - y1) * i) / steps
      const near = (this.#segments.get(key(cell(x), cell(y))) ?? []).some((s) =>
        crosses(s, { x, y, w: 4, h: 4 }, 0),
      )
      if (near && !inside) count++
      inside = near
    }
    return count
  }
}

const cell = (v: number) => Math.floor(v / CELL)
const key = (cx: number, cy: number) => cx * 65_536 + cy

/** Does a segment meet a box grown by `more`? (Liang and Barsky.) */
function crosses([x1, y1, x2, y2]: Segment, b: Box, more: number): boolean {
  let [from, to] = [0, 1]
  const cut = (delta: number, low: number, high: number): boolean => {
    if (delta === 0) return low <= 0 && high >= 0
    const [a, c] = delta > 0 ? [low / delta, high / delta] : [high / delta, low / delta]
    from = Math.max(from, a)
    to = Math.min(to, c)
    return from <= to
  }
  const [w, h] = [b.w / 2 + more, b.h / 2 + more]
  return cut(x2 - x1, b.x - w - x1, b.x + w - x1) && cut(y2 - y1, b.y - h - y1, b.y + h - y1)
}

/** Where the way from a point to the middle of a box meets its rim. */
function edgeOf(b: Box, x: number, y: number): [number, number] {
  const [dx, dy] = [x - b.x, y - b.y]
  const share = Math.min(
    Math.abs(dx) > 0 ? b.w / 2 / Math.abs(dx) : Number.POSITIVE_INFINITY,
    Math.abs(dy) > 0 ? b.h / 2 / Math.abs(dy) : Number.POSITIVE_INFINITY,
    1,
  )
  return [b.x + dx * share, b.y + dy * share]
}
