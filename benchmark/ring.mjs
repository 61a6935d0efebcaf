/**
 * Text of a design, invented: a ring of sections, as long as wanted, with a feeder at every other one and two locomotives.
 * @param version of the design file; the first called outputs tracks
 */
export function ring(sections, version = 2) {
  return `halfbit: ${version}
name: Ring of ${sections} sections (invented)
controller: { chip: atmega328p, clock: { frequency: 16 MHz } }
signal: { ${version === 1 ? 'tracks' : 'outputs'}: { main: { pin: PB1 } } }
power:
  supplies: { s: { voltage: 15 V, rating: 6 A, limit: none } }
  drivers: { d: { part: DRV8874 } }
  districts: { main: { trip: { current: 4 A, by: breaker } } }
track:
  bus: { bus: { wire: 2.5 mm2, length: ${sections} m } }
  sections:
    line: { count: ${sections / 2}, length: 1 m, from: a, to: b, feeders: { at: 0 m, step: 2 m, every: 2 } }
    back: { count: ${sections / 2}, length: 1 m, from: b, to: a, feeders: { at: 1 m, step: 2 m, every: 2 } }
rollingStock:
  one: { running: 0.5 A, section: line.7 }
  two: { running: 0.4 A, section: back.${sections / 4} }
`
}
