/** Where probes go in the wiring diagram: every place that is wired is shown there, and nothing else stands out. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { diagramSvg, layDiagram, probesAt, wiringOf, wiringSources } from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'
import { Finder } from '../../src/find/index.js'

it.each(['shelf', 'two-tracks', 'exhibition', 'automation', 'flawed'])('%s', (example) => {
  const file = new URL(`../../examples/${example}/halfbit.yaml`, import.meta.url).pathname
  const loaded = loadDesign(readFileSync(file, 'utf8'), file)
  const { station } = new Finder(loaded)
  const sources = wiringSources(loaded)
  const wiring = wiringOf(sources)
  const diagram = layDiagram(wiring)
  for (const place of station.places) {
    const { parts, wires } = probesAt(place, wiring, sources)
    for (const id of parts) expect(diagram.parts.some((p) => p.id === id)).toBe(true)
    for (const id of wires) expect(diagram.wires.some((w) => w.id === id)).toBe(true)
    const isWired = ['feeder', 'district', 'supply', 'driver', 'input', 'pin', 'controller', 'bus'].includes(
      place.kind,
    )
    if (isWired) expect(parts.length + wires.length, place.text).toBeGreaterThan(0)
    if (place.kind === 'district') expect(wires.length, place.text).toBeGreaterThanOrEqual(2)
    if (parts.length === 0) continue
    // The marked part is drawn with its name, however little of the diagram is in view.
    const svg = diagramSvg(diagram, 'alt', { parts, wires })
    expect(svg).toContain('class="p m"')
  }
})
