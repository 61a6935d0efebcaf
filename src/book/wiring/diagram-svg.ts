/** The diagram as SVG, light and dark. */
import { xml } from '../../proof/index.js'
import type { Diagram } from './diagram.js'

const STYLE = `svg{background:#fffefb;font:10px ui-monospace,"DejaVu Sans Mono",Consolas,monospace}
.p{fill:#f1eee6;stroke:#54616e}.l{fill:#1b2733}.h{font-weight:700}.w{fill:none;stroke:#54616e;stroke-width:1.2}.w2{stroke-width:2.4}
.plus{stroke:#a3212f}.minus{stroke:#1b2733}.signal{stroke:#7a5600}.rail{stroke:#14548c}.e{fill:#14548c}
@media(prefers-color-scheme:dark){svg{background:#15232f}.p{fill:#1d3040;stroke:#a3b2c0}.l{fill:#e7edf3}.w{stroke:#a3b2c0}.plus{stroke:#ff9aa2}.minus{stroke:#e7edf3}.signal{stroke:#f2b84e}.rail{stroke:#8cc4f5}.e{fill:#8cc4f5}}
@media print{svg{background:#fff}}`

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

/** @param alt what the picture shows, for those who do not see it. */
export function diagramSvg({ width, height, parts, wires, labels }: Diagram, alt: string): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${n(width)} ${n(height)}" width="${n(width)}" height="${n(height)}" role="img" aria-label="${xml(alt)}">
<style>${STYLE}</style>
${wires
  .map(
    (w) =>
      `<path class="w ${CLASS[w.role]}${w.pair ? ' w2' : ''}" data-wire="${w.id}" d="M${w.points.map(([x, y]) => `${n(x)} ${n(y)}`).join('L')}"/>`,
  )
  .join('\n')}
${parts.map((b) => `<rect class="p" data-part="${xml(b.id)}" x="${n(b.x)}" y="${n(b.y)}" width="${n(b.width)}" height="${n(b.height)}" rx="3"/>`).join('\n')}
${labels.map((l) => `<text class="l${l.kind === 'part' ? ' h' : l.kind === 'wire' ? ' e' : ''}" x="${n(l.x)}" y="${n(l.y + l.height - 1)}">${xml(l.text)}</text>`).join('\n')}
</svg>
`
}
