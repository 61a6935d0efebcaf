import { SaxesParser } from 'saxes'
import { describe, expect, it } from 'vitest'
import { exportedFigure, lineChart } from './index.js'

const chart = lineChart({
  id: 'x',
  title: 'Voltage (invented)',
  description: 'Two points.',
  x: { label: 'time', unit: 's' },
  y: { label: 'voltage', unit: 'V' },
  series: [{ label: 'rail', points: [[0, 1], [1, 2]] }], // biome-ignore format: short
})
const parsed = (svg: string) => {
  let text = ''
  const parser = new SaxesParser()
  parser.on('error', (error) => {
    throw error
  })
  parser.on('text', (t) => {
    text += t
  })
  parser.write(svg).close()
  return text
}

describe('a drawing to take along', () => {
  it('is sound, states its source, and needs nothing from outside', () => {
    const svg = exportedFigure(chart, 'light', 'Source: calculated from <A & B>.')
    expect(parsed(svg)).toContain('Source: calculated from <A & B>.')
    expect(svg).not.toMatch(/var\(|@media|url\(|href|--\w/)
  })

  it('has the colours of one scheme only', () => {
    const light = exportedFigure(chart, 'light', 'x')
    const dark = exportedFigure(chart, 'dark', 'x')
    expect(light).toContain('fill:#1b2733')
    expect(light).not.toContain('#e7edf3')
    expect(dark).toContain('.hb-plot{font:13px system-ui,sans-serif;fill:#e7edf3}')
    expect(dark).toContain('.paper{fill:#142230}')
    expect(dark).not.toMatch(/paper\{fill:#fffefb/)
  })

  it('grows by the lines of its caption', () => {
    const height = (svg: string) => Number(/ height="([\d.]+)"/.exec(svg)![1])
    const short = height(exportedFigure(chart, 'light', 'short'))
    const long = height(exportedFigure(chart, 'light', 'long words '.repeat(40)))
    expect(short).toBeGreaterThan(400)
    expect(long).toBeGreaterThan(short + 30)
    expect(() => exportedFigure('<svg></svg>', 'light', '')).toThrow(RangeError)
  })
})
