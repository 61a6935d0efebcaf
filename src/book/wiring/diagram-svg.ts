/** The diagram as SVG, light and dark. */
import { pageText } from '../../proof/index.js'
import type { Diagram } from './diagram.js'

/** In a page it stands beside other drawings, so every rule names the class. */
const rules = (text: string) => text.replace(/^(?=\.)/gm, '.wiring ')
const STYLE = `.wiring{background:#fffefb;font:10px ui-monospace,"DejaVu Sans Mono",Consolas,monospace}
${rules(`.p{fill:#f1eee6;stroke:#54616e}
.l{fill:#1b2733}
.h{font-weight:700}
.w{fill:none;stroke:#54616e;stroke-width:1.2}
.w2{stroke-width:2.4}
.plus{stroke:#a3212f}
.minus{stroke:#1b2733}
.signal{stroke:#7a5600}
.rail{stroke:#14548c}
.e{fill:#14548c}
.m{fill:#f6e4d3;stroke:#a34f12;stroke-width:2.5}
.k{fill:none;stroke:#a34f12;stroke-width:6;stroke-opacity:.55}
.o{fill:#fffefb;stroke:#a34f12;stroke-width:2.5}`)}
@media(prefers-color-scheme:dark){.wiring{background:#15232f}
${rules(`.p{fill:#1d3040;stroke:#a3b2c0}
.l{fill:#e7edf3}
.w{stroke:#a3b2c0}
.plus{stroke:#ff9aa2}
.minus{stroke:#e7edf3}
.signal{stroke:#f2b84e}
.rail{stroke:#8cc4f5}
.e{fill:#8cc4f5}
.m{fill:#3a2a1e;stroke:#e8a063}
.k{stroke:#e8a063}
.o{fill:#15232f;stroke:#e8a063}`)}
}
@media print{.wiring{background:#fff}}`

const CLASS: Readonly<Record<Diagram['wires'][number]['role'], string>> = {
  'supply plus': 'plus',
  'supply minus': 'minus',
  'logic supply': 'plus',
  ground: 'minus',
  signal: 'signal',
  enable: 'signal',
  sense: 'signal',
  'rail A': 'rail',
  'rail B': 'rail',
}

const n = (value: number) => String(Math.round(value * 10) / 10)

/** Parts and wires that stand out, by id; a probe is put to the start of each such wire. */
export interface DiagramMarks {
  parts: readonly string[]
  wires: readonly string[]
}

const NO_MARKS: DiagramMarks = { parts: [], wires: [] }

/**
 * @param alt what the picture shows, for those who do not see it.
 * @param marks with any, only what lies around them is drawn.
 * @param unitPt size of a unit on paper, points; a unit is a pixel of the page where it is left out.
 */
export function diagramSvg(
  diagram: Diagram,
  alt: string,
  marks: DiagramMarks = NO_MARKS,
  unitPt?: number,
): string {
  const size = (units: number) => (unitPt === undefined ? n(units) : `${n(units * unitPt)}pt`)
  const view = viewOf(diagram, marks)
  const { x, y, width, height } = view
  const { wires } = diagram
  // Nothing is cut in two: a part that is not wholly in view is left out with its labels, but for the wires that lead to it.
  const parts = diagram.parts.filter((b) => isWithin(b, view))
  const out = diagram.parts.filter((b) => !isWithin(b, view))
  const labels = diagram.labels.filter((l) => isWithin(l, view) && !out.some((b) => meet(l, b)))
  const marked = wires.filter((w) => marks.wires.includes(w.id))
  return `<svg xmlns="http://www.w3.org/2000/svg" class="wiring" viewBox="${n(x)} ${n(y)} ${n(width)} ${n(height)}" width="${size(width)}" height="${size(height)}" role="img" aria-label="${pageText(alt)}">
<style>${STYLE}</style>
${marked.map((w) => `<path class="k" d="M${w.points.map(([a, b]) => `${n(a)} ${n(b)}`).join('L')}"/>`).join('\n')}
${wires
  .map(
    (w) =>
      `<path class="w ${CLASS[w.role]}${w.pair ? ' w2' : ''}" data-wire="${w.id}" d="M${w.points.map(([x, y]) => `${n(x)} ${n(y)}`).join('L')}"/>`,
  )
  .join('\n')}
${parts.map((b) => `<rect class="p${marks.parts.includes(b.id) ? ' m' : ''}" data-part="${pageText(b.id)}" x="${n(b.x)}" y="${n(b.y)}" width="${n(b.width)}" height="${n(b.height)}" rx="3"/>`).join('\n')}
${labels.map((l) => `<text class="l${l.kind === 'part' ? ' h' : l.kind === 'wire' ? ' e' : ''}" x="${n(l.x)}" y="${n(l.y + l.height - (l.kind === 'wire' ? 2.5 : 1))}">${pageText(l.text)}</text>`).join('\n')}
${marked.map(({ points: [[a, b] = [0, 0]] }) => `<circle class="o" cx="${n(a)}" cy="${n(b)}" r="5"/>`).join('\n')}
</svg>
`
}

/** Wide and high enough to see what a marked part is connected to. */
const AROUND = { width: 400, height: 280 }

interface Box {
  x: number
  y: number
  width: number
  height: number
}

function isWithin(b: Box, view: Box): boolean {
  const right = b.x + b.width <= view.x + view.width
  const below = b.y + b.height <= view.y + view.height
  return b.x >= view.x && b.y >= view.y && right && below
}

function meet(a: Box, b: Box): boolean {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height
}

/** The same, with every part whole that is in view in part. */
function grown(view: Box, parts: readonly Box[]): Box {
  const boxes = [view, ...parts.filter((p) => meet(p, view))]
  // Room for a frame around the outermost.
  const [x, y] = [Math.min(...boxes.map((b) => b.x - 2)), Math.min(...boxes.map((b) => b.y - 2))]
  const right = Math.max(...boxes.map((b) => b.x + b.width + 2))
  const below = Math.max(...boxes.map((b) => b.y + b.height + 2))
  return { x, y, width: right - x, height: below - y }
}

function viewOf({ width, height, parts, wires }: Diagram, marks: DiagramMarks): Box {
  const whole = { x: 0, y: 0, width, height }
  const points = [
    ...parts
      .filter((p) => marks.parts.includes(p.id))
      .flatMap((p): [number, number][] => [
        [p.x, p.y],
        [p.x + p.width, p.y + p.height],
      ]),
    ...wires.filter((w) => marks.wires.includes(w.id)).flatMap((w) => w.points.slice(0, 2)),
  ]
  if (points.length === 0) return whole
  const along = (values: number[], most: number, room: number) => {
    const [low, high] = [Math.min(...values), Math.max(...values)]
    const size = Math.min(most, Math.max(room, high - low + room / 4))
    const start = Math.min(most - size, Math.max(0, (low + high - size) / 2))
    return { start, size }
  }
  const across = along(
    points.map((p) => p[0]),
    width,
    AROUND.width,
  )
  const down = along(
    points.map((p) => p[1]),
    height,
    AROUND.height,
  )
  return grown({ x: across.start, y: down.start, width: across.size, height: down.size }, parts)
}
