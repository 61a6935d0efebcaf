/** The drawings of a railroad's report: maps with a figure at every section, and edges. */
import { lineChart } from '../../plot/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { limitsOf } from '../limits.js'
import type { TrackModel } from '../model.js'
import type { TrackReport } from '../report.js'
import { EDGE_AT_US } from '../ringing/plain-ladder.js'
import type { DistrictRinging } from '../ringing/report.js'
import { drawTrack, type Grade, type MapValue, voltLabel } from './draw.js'

export interface TrackDrawing {
  /** File name without its ending. */
  name: string
  svg: string
}

const LEGEND: Record<string, Record<Grade, string>> = {
  volt: { good: 'up to 5 % lost', fair: 'up to the limit', poor: 'more is lost', none: 'no figure' },
  short: {
    good: 'draws more than wanted',
    fair: 'trips, with little to spare',
    poor: 'never trips',
    none: 'no trip level',
  },
}

export interface VoltValue extends MapValue {
  /** Lowest voltage, V, and the least that the design's limits allow there; without trains absent. */
  volt?: number
  leastVolt?: number
}

/** How each track stands, in the order of the plan. */
export interface SectionGrades {
  /** Lowest voltage with the trains where they stand. */
  planned: VoltValue[]
  /** The same where they hurt most. */
  worst: VoltValue[]
  /** What a short draws. */
  shorts: MapValue[]
}

/** What the maps show of every section. */
export function gradeSections(model: TrackModel, report: TrackReport): SectionGrades {
  const limits = limitsOf(model.plan.design)
  const loads = new Map(report.districts.map((d) => [d.name, d.loadAmp.high]))
  // Lost in wires and rails: what supply and driver lose at that current is not theirs.
  const graded = (volt: number, district: string, amp: number): VoltValue => {
    const d = report.districts.find((x) => x.name === district)!
    const given = d.openVolt.low - amp * d.sourceOhm
    const share = (given - volt) / d.openVolt.low
    const grade =
      share <= limits.dropShare / 2
        ? 'good'
        : share <= limits.dropShare && volt >= limits.decoderVolt
          ? 'fair'
          : 'poor'
    const leastVolt = Math.max(limits.decoderVolt, given - limits.dropShare * d.openVolt.low)
    return { grade, label: voltLabel(volt), volt, leastVolt }
  }
  const planned = report.sections.map((s) => graded(s.volt.low, s.district, loads.get(s.district) ?? 0))
  const worst = report.sections.map((s): VoltValue => {
    if (s.envelopeVolt === undefined) return { grade: 'none', label: '' }
    return graded(s.envelopeVolt, s.district, s.envelopeAmp ?? 0)
  })
  const shorts = report.sections.map((s): MapValue => {
    if (s.shortShare === undefined) return { grade: 'none', label: `${formatNumber(s.shortAmp.low, 3)} A` }
    const share = s.shortShare.low
    const label = `${formatNumber(s.shortAmp.low, 3)} A, ${formatNumber(share, 3)}×`
    return { grade: share >= limits.reserve ? 'good' : share > 1 ? 'fair' : 'poor', label }
  })
  return { planned, worst, shorts }
}

/** What the grades of a map mean. */
export function legendOf(map: 'volt' | 'short'): Readonly<Record<Grade, string>> {
  return LEGEND[map]!
}

/** Maps of voltage and shorts, and an edge at the far end of each bus. */
export function trackDrawings(model: TrackModel, report: TrackReport): TrackDrawing[] {
  const { planned, worst, shorts } = gradeSections(model, report)
  const files: [string, string][] = [
    [
      'voltage',
      drawTrack(model.plan, {
        id: 'track-voltage',
        title: 'Lowest voltage, trains as parked',
        description: summary(report),
        values: planned,
        legend: LEGEND['volt']!,
      }),
    ],
    [
      'voltage-worst',
      drawTrack(model.plan, {
        id: 'track-voltage-worst',
        title: 'Lowest voltage, worst-case train positions',
        description: report.envelope
          ? `At worst ${voltLabel(report.envelope.volt)} at ${report.envelope.place}.`
          : 'No trains are given.',
        values: worst,
        legend: LEGEND['volt']!,
      }),
    ],
    [
      'shorts',
      drawTrack(model.plan, {
        id: 'track-shorts',
        title: 'What a short draws, and as a multiple of the trip current',
        description: `The weakest is at ${report.shorts.weakest}.`,
        values: shorts,
        legend: LEGEND['short']!,
      }),
    ],
  ]
  return [
    ...files.map(([name, svg]) => ({ name, svg })),
    ...(report.ringing?.districts ?? []).map((r) => ringingDrawing(r)),
  ]
}

/** A name for people as part of a file's name. */
export function fileName(name: string): string {
  return name.replace(/[^\w-]+/g, '-')
}

/** When all waves keep within a twentieth of where they settle, and half as long again: what a drawing of them needs. */
function quietAfterUs(waves: readonly { timeUs: number[]; volt: number[] }[]): number {
  let last = 2 * EDGE_AT_US
  for (const { timeUs, volt } of waves) {
    const final = volt.at(-1) ?? 0
    volt.forEach((v, i) => {
      if (Math.abs(v - final) > 0.05 * Math.abs(final)) last = Math.max(last, timeUs[i]!)
    })
  }
  return 1.5 * last
}

/**
 * An edge over time, as designed and with the best resistor and capacitor if there is one.
 * @param place where it was looked at; the far end of the district's bus when left out.
 */
export function ringingDrawing(r: DistrictRinging, place?: string): TrackDrawing {
  const until = quietAfterUs([r.wave, ...(r.bestWave ? [r.bestWave] : [])])
  const points = (w: { timeUs: number[]; volt: number[] }) =>
    w.timeUs.flatMap((t, i): [number, number][] => (t <= until ? [[t, w.volt[i]!]] : []))
  const series = [{ label: 'as designed', points: points(r.wave) }]
  if (r.bestWave && r.best)
    series.push({
      label: `${r.best.ohm} Ohm, ${formatNumber(r.best.farad * 1e9)} nF`,
      points: points(r.bestWave),
    })
  const name = place === undefined ? `edge-${fileName(r.district)}` : `edge-at-${fileName(place)}`
  const peak = place === undefined ? r.worst.peakVolt : r.far.peakVolt
  const slope = place === undefined ? r.slopeVoltPerUs : r.far.slopeVoltPerUs
  return {
    name,
    svg: lineChart({
      id: `track-${name}`,
      title:
        place === undefined
          ? `An edge at the far end of district ${r.district}, peak ${voltLabel(r.far.peakVolt)}`
          : `An edge at ${place}, peak ${voltLabel(r.far.peakVolt)}`,
      description: `Peak ${voltLabel(peak)}, slope ${formatNumber(slope, 3)} V/us, driver edge ${formatTimeUs(r.edgeUs, 3)}.`,
      x: { label: 'time', unit: 'us' },
      y: { label: 'rail to rail', unit: 'V' },
      series,
      rules: [
        { axis: 'y', at: 2, label: '+2 V' },
        { axis: 'y', at: -2, label: '-2 V' },
      ],
    }),
  }
}

function summary(report: TrackReport): string {
  return report.districts
    .map((d) => `District ${d.name}: at least ${voltLabel(d.worstVolt.low)}, at ${d.worstVoltPlace}.`)
    .join(' ')
}
