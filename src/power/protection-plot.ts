/** The time-current chart of a district on two logarithmic scales, with what nothing protects shaded. */
import { type Area, lineChart, type Role, type Rule, type Series } from '../plot/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import type { Protection, ProtectionCurve, ProtectionGap } from './protection.js'

/** Edges of the chart, s: what lasts longer is drawn at the top, what is shorter at the bottom. */
const LEAST_S = 1e-4
const MOST_S = 1000

const NARROW = { width: 420, height: 560 }
/** A narrow chart ends at so many times the most that may flow. */
const NARROW_BEYOND = 4

const amp = (value: number) => formatSi(value, 'A', 3)
const inside = (us: number) => Math.min(MOST_S, Math.max(LEAST_S, us * 1e-6))

/** @param isNarrow for a page that is no wider than a phone. */
export function protectionPlot(p: Protection, id: string, isNarrow = false): string {
  const isSeen = ({ amp: a }: { amp: number }) => !isNarrow || a <= p.mostAmp * NARROW_BEYOND
  const series: Series[] = p.curves.map((c) => ({
    // A breaking capacity is a rating of its own, not a time.
    label: c.kind === 'ends' || c.part === 'fuse' ? c.what : `${c.what} survives`,
    role: roleOf(c),
    points: c.points.filter(isSeen).map(({ amp: a, us }) => [a, inside(us)] as const),
  }))
  const rules: Rule[] = p.loads.map((l) => ({
    axis: 'x',
    at: l.amp,
    label: `${l.what} ${amp(l.amp)}`,
    role: 'load',
  }))
  if (p.tripLowAmp !== undefined)
    rules.push({ axis: 'x', at: p.tripLowAmp, label: `trips from ${amp(p.tripLowAmp)}`, role: 'trip' })
  rules.push({ axis: 'x', at: p.mostAmp, label: `at most ${amp(p.mostAmp)}`, role: 'limit' })
  const all = p.curves[0]?.points.filter(isSeen).map((point) => point.amp) ?? []
  return lineChart({
    id,
    title: isNarrow
      ? `${p.district}: protection`
      : `District ${p.district}: protection from continuous to short`,
    description:
      p.gaps.length > 0
        ? p.gaps.map(gapInWords).join(' ')
        : `Up to the ${amp(p.mostAmp)} that may flow, every current ends before anything comes to harm.`,
    x: {
      label: 'current',
      unit: 'A',
      scale: 'log',
      ...(all.length > 0 ? { min: all[0]!, max: all.at(-1)! } : {}),
    },
    y: {
      label: 'time that the current flows',
      unit: 's',
      scale: 'log',
      min: LEAST_S,
      max: MOST_S,
      // Every power of ten of the axis in seconds, not one of them in minutes.
      says: (s) => (s >= 1 ? `${formatNumber(s, 3)} s` : formatTimeUs(s * 1e6, 3)),
    },
    series,
    rules,
    areas: p.gaps.map((g) => areaOf(p, g)),
    ...(isNarrow ? NARROW : { width: 900, height: 640 }),
  })
}

function roleOf({ kind, part }: ProtectionCurve): Role {
  if (kind === 'ends') return part === 'trip' ? 'trip' : part === 'fuse' ? 'fuse' : 'limit'
  if (part === 'wire' || part === 'joint') return 'wire survives'
  return part === 'driver' ? 'survives' : 'rating'
}

/** A gap in one sentence. */
export function gapInWords(g: ProtectionGap): string {
  const survives = g.survivesUs > 0 ? `survives ${formatTimeUs(g.survivesUs, 3)}` : 'does not survive it'
  const ends = Number.isFinite(g.endsUs) ? `ends after ${formatTimeUs(g.endsUs, 3)}` : 'may never end'
  return `Nothing protects ${g.what} from ${formatNumber(g.fromAmp, 3)} to ${amp(g.toAmp)}: it ${survives}, the current ${ends}.`
}

function areaOf(p: Protection, g: ProtectionGap): Area {
  const within = (a: number) => a >= g.fromAmp && a <= g.toAmp
  const part = p.curves.find((c) => c.kind === 'survives' && c.what === g.what)
  const ends = p.curves.filter((c) => c.kind === 'ends')
  const amps = (part?.points ?? []).map((point, i) => ({ a: point.amp, i })).filter(({ a }) => within(a))
  const lower = amps.map(({ a, i }) => [a, inside(part!.points[i]!.us)] as const)
  const upper = amps.map(({ a, i }) => [a, inside(Math.min(...ends.map((c) => c.points[i]!.us)))] as const)
  return { label: gapInWords(g), points: [...lower, ...upper.reverse()] }
}
