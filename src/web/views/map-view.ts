/** What part of the map is in view, and where its labels go. Pure, so that it can be tested without a screen. */

/** In the drawing's units; the whole drawing at zoom 1. */
export interface MapView {
  zoom: number
  x: number
  y: number
}

/** Width of the drawing in its own units. */
export const WIDTH = 1000

export const WHOLE: MapView = { zoom: 1, x: 0, y: 0 }

const MOST_ZOOM = 40

/** Zoom around a point of the drawing that stays where it is on screen. */
export function zoomMap(view: MapView, factor: number, at: readonly [number, number], size: Size): MapView {
  const zoom = Math.min(MOST_ZOOM, Math.max(1, view.zoom * factor))
  const share = view.zoom / zoom
  return kept({ zoom, x: at[0] - (at[0] - view.x) * share, y: at[1] - (at[1] - view.y) * share }, size)
}

export function panMap(view: MapView, by: readonly [number, number], size: Size): MapView {
  return kept({ ...view, x: view.x + by[0], y: view.y + by[1] }, size)
}

export interface Size {
  width: number
  height: number
}

/** The drawing never leaves the view. */
function kept({ zoom, x, y }: MapView, { width, height }: Size): MapView {
  const clamp = (v: number, most: number) => Math.min(Math.max(0, v), most - most / zoom)
  return { zoom, x: clamp(x, width), y: clamp(y, height) }
}

/**
 * Where a view of the drawing lies in a box of the page: its origin, and pixels for each unit. As a browser puts an SVG
 * with a view box into its place: whole, in the middle.
 */
export function onScreen(
  { zoom, x, y }: MapView,
  { width, height }: Size,
  box: Size & { left: number; top: number },
): { left: number; top: number; perUnit: number } {
  const fit = Math.min(box.width / width, box.height / height)
  const perUnit = fit * zoom
  return {
    left: box.left + (box.width - width * fit) / 2 - x * perUnit,
    top: box.top + (box.height - height * fit) / 2 - y * perUnit,
    perUnit,
  }
}

export interface LabelWish {
  text: string
  /** In its place where there is no room for all of it. */
  short?: string
  /** May lie farther away, and is led to by a line. */
  isFar?: boolean
  /** The line that it names, in the drawing's units. */
  line: readonly (readonly [number, number])[]
}

export interface PlacedLabel {
  text: string
  x: number
  y: number
  /** Which of the wishes it is. */
  of: number
  /** From its edge to what it names, where that is farther away. */
  leader?: readonly [number, number, number, number]
}

/** Width of a letter and height of a line, as a share of the size of the type. */
const LETTER = 0.58
const LINE = 1.15
/** What stays free around a label, as a share of the size of the type. */
const CLEAR = 0.35

export interface Box {
  left: number
  top: number
  right: number
  bottom: number
}

/** What of the drawing is not in view: no label is cut by its edge. */
export function outside({ zoom, x, y }: MapView, { width, height }: Size): Box[] {
  if (zoom === 1) return []
  const far = 2 * Math.max(width, height)
  const [right, bottom] = [x + width / zoom, y + height / zoom]
  return [
    { left: -far, right: x, top: -far, bottom: far },
    { left: right, right: far, top: -far, bottom: far },
    { left: -far, right: far, top: -far, bottom: y },
    { left: -far, right: far, top: bottom, bottom: far },
  ]
}

/**
 * Places labels beside the middle of their lines, so that none lies on another or is struck by a line. What fits
 * nowhere is left out: it comes with zoom.
 * @param fontSize in the drawing's units.
 * @param size of the drawing, which no label leaves. @param taken by something else.
 */
export function placeLabels(
  wishes: readonly LabelWish[],
  fontSize: number,
  size: Size,
  taken: readonly Box[] = [],
): PlacedLabel[] {
  const placed: Box[] = [...taken]
  const list: PlacedLabel[] = []
  const lines = wishes.map((w) => boxed(w.line))
  const isPlaced = (text: string, of: number, at: readonly [number, number], isFar: boolean) => {
    const wide = text.length * LETTER * fontSize
    const tall = LINE * fontSize
    const ways = isFar
      ? [3, 5, 7].flatMap((by) => placesAround(by * fontSize, wide, 1.6 * fontSize))
      : places(wide, tall, fontSize)
    for (const [dx, dy] of ways) {
      const [cx, cy] = [at[0] + dx, at[1] + dy]
      const free = CLEAR * fontSize
      const box = {
        left: cx - wide / 2 - free,
        right: cx + wide / 2 + free,
        top: cy - tall / 2 - free,
        bottom: cy + tall / 2 + free,
      }
      const isOut = box.left < 0 || box.top < 0 || box.right > size.width || box.bottom > size.height
      if (isOut || placed.some((p) => overlap(p, box)) || lines.some((l) => strikes(l, box))) continue
      placed.push(box)
      const edge = dy < 0 ? cy + tall / 2 : cy - tall / 2
      if (isFar) {
        // Neither its mark nor its leader is written over.
        const mark = 1.2 * fontSize
        placed.push({ left: at[0] - mark, right: at[0] + mark, top: at[1] - mark, bottom: at[1] + mark })
        lines.push(boxed([at, [cx, edge]]))
      }
      const leader = isFar ? { leader: [at[0], at[1], cx, edge] as const } : {}
      list.push({ text, x: cx, y: cy + 0.35 * fontSize, of, ...leader })
      return true
    }
    return false
  }
  for (const [of, { text, short, line, isFar = false }] of wishes.entries()) {
    const at = middleOf(line)
    if (!at || text === '') continue
    if (!isPlaced(text, of, at, isFar) && short) isPlaced(short, of, at, isFar)
  }
  return list
}

function places(wide: number, tall: number, fontSize: number): [number, number][] {
  const up = tall / 2 + 0.9 * fontSize
  const out = wide / 2 + 0.9 * fontSize
  return [
    [0, -up],
    [0, up],
    [out, 0],
    [-out, 0],
    [out * 0.8, -up],
    [-out * 0.8, up],
  ]
}

/** Below and above, straight and to the sides, there clear of a line that runs up or down. */
function placesAround(by: number, wide: number, clear: number): [number, number][] {
  return [0, wide / 2, -wide / 2, wide / 2 + clear, -wide / 2 - clear].flatMap((dx): [number, number][] => [
    [dx, by],
    [dx, -by],
  ])
}

function middleOf(line: LabelWish['line']): readonly [number, number] | undefined {
  let length = 0
  for (let i = 1; i < line.length; i++) length += distance(line[i - 1]!, line[i]!)
  let rest = length / 2
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1]!, line[i]!]
    const piece = distance(a, b)
    if (piece >= rest && piece > 0)
      return [a[0] + ((b[0] - a[0]) * rest) / piece, a[1] + ((b[1] - a[1]) * rest) / piece]
    rest -= piece
  }
  return line[0]
}

const distance = (a: readonly [number, number], b: readonly [number, number]) =>
  Math.hypot(a[0] - b[0], a[1] - b[1])

const overlap = (a: Box, b: Box) =>
  a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom

interface Boxed {
  line: LabelWish['line']
  around: Box
}

/** Of thousands of lines nearly all lie elsewhere: that is known from the box around them. */
function boxed(line: LabelWish['line']): Boxed {
  const [across, down] = [line.map(([x]) => x), line.map(([, y]) => y)]
  const around = {
    left: Math.min(...across),
    right: Math.max(...across),
    top: Math.min(...down),
    bottom: Math.max(...down),
  }
  return { line, around }
}

/** Whether a line passes through a box: its ends are clipped to it (Liang and Barsky). */
function strikes({ line, around }: Boxed, box: Box): boolean {
  if (around.right < box.left || around.left > box.right) return false
  if (around.bottom < box.top || around.top > box.bottom) return false
  for (let i = 1; i < line.length; i++) {
    const [x0, y0] = line[i - 1]!
    const [dx, dy] = [line[i]![0] - x0, line[i]![1] - y0]
    let from = 0
    let to = 1
    for (const [p, q] of [
      [-dx, x0 - box.left],
      [dx, box.right - x0],
      [-dy, y0 - box.top],
      [dy, box.bottom - y0],
    ] as const) {
      if (p === 0) {
        if (q < 0) to = -1
      } else if (p < 0) from = Math.max(from, q / p)
      else to = Math.min(to, q / p)
    }
    if (from < to) return true
  }
  return false
}
