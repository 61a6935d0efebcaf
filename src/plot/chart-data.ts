/** What a chart shows as plain data inside its SVG, so that a page can say the values under a pointer. */
import { escapeXml } from './frame.js'
import type { LineChart } from './line-chart.js'
import type { Scale } from './ticks.js'

export interface Chart {
  c: LineChart
  x: Scale
  y: Scale
  box: { left: number; top: number; right: number; bottom: number }
  width: number
  height: number
}

export interface ChartData {
  width: number
  height: number
  box: { left: number; top: number; right: number; bottom: number }
  x: { label: string; unit: string; isLog: boolean; min: number; max: number }
  y: { label: string; unit: string; isLog: boolean; min: number; max: number }
  series: { label: string; steps: boolean; points: [number, number][] }[]
}

const short = (value: number) => Number(value.toPrecision(5))

/** As an SVG `metadata` element. */
export function chartData({ c, x, y, box, width, height }: Chart): string {
  const axis = (name: 'x' | 'y', { min, max }: Scale) => ({
    label: c[name].label,
    unit: c[name].unit,
    isLog: c[name].scale === 'log',
    min,
    max,
  })
  const data: ChartData = {
    width,
    height,
    box,
    x: axis('x', x),
    y: axis('y', y),
    series: c.series.map(({ label, steps = false, points }) => ({
      label,
      steps,
      points: points.flatMap(([a, b]): [number, number][] =>
        Number.isFinite(a) && Number.isFinite(b) ? [[short(a), short(b)]] : [],
      ),
    })),
  }
  return `<metadata>${escapeXml(JSON.stringify(data))}</metadata>`
}

/** The x value at a share 0 to 1 of the width between both rims of the chart. */
export function xAt({ x }: ChartData, share: number): number {
  const s = Math.min(1, Math.max(0, share))
  return x.isLog ? x.min * (x.max / x.min) ** s : x.min + (x.max - x.min) * s
}

/** The value of each line at an x; undefined where it has none there, or where what it has is held at a rim. */
export function valuesAt(chart: ChartData, at: number): { label: string; value: number | undefined }[] {
  return chart.series.map(({ label, steps, points }) => {
    const next = points.findIndex(([a]) => a >= at)
    if (next < 0) return { label, value: undefined }
    const [x2, y2] = points[next]!
    if (x2 === at || next === 0) return { label, value: x2 === at ? y2 : undefined }
    const [x1, y1] = points[next - 1]!
    if (steps) return { label, value: y1 }
    const logX = chart.x.isLog && x1 > 0
    const share = logX ? Math.log(at / x1) / Math.log(x2 / x1) : (at - x1) / (x2 - x1)
    const logY = chart.y.isLog && y1 > 0 && y2 > 0
    const value = logY ? y1 * (y2 / y1) ** share : y1 + (y2 - y1) * share
    return { label, value: value <= chart.y.min || value >= chart.y.max ? undefined : value }
  })
}
