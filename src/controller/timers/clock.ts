/** How far a clock may be off. */
import { formatShare } from '../../units/index.js'
import { CHIPS, type ChipId, type ChipInfo, type TimerClock } from '../chips/index.js'
import type { ControllerDesign } from '../design.js'

type ClockDesign = ControllerDesign['clock']
/** What of a clock tells its tolerance. */
export type ClockKind = Pick<ClockDesign, 'source' | 'tolerance'>

/**
 * Greatest error of each source, as a share, over temperature and ageing.
 * crystal: ±50 ppm, and about ±50 ppm each for temperature and ageing (quoted, from memory). resonator: ±0.5 %, +0.3 %
 * temperature, +0.3 % ageing, together about ±1.1 % (quoted). rc: ±10 % factory trim, trimmed rc: ±1 % (data sheet 8161D
 * Table 28-1, confirmed). internal: the chip's own figure.
 */
const CLOCK_TOLERANCE: Readonly<
  Record<Exclude<ClockDesign['source'], 'internal'>, { share: number; says: string }>
> = {
  crystal: { share: 150e-6, says: 'quartz crystal, 150 ppm with temperature and ageing' },
  resonator: { share: 0.011, says: 'ceramic resonator, 1.1 % with temperature and ageing' },
  'trimmed rc': { share: 0.01, says: 'internal oscillator trimmed by the user, 1 %' },
  rc: { share: 0.1, says: 'internal oscillator as delivered, 10 %' },
}

/** Tolerance of the design's clock, share; the file's own figure goes before that of its kind. */
export function clockTolerance(clock: ClockKind, chip: ChipInfo): { share: number; says: string } {
  if (clock.tolerance !== undefined)
    return { share: clock.tolerance, says: `${clock.source}, tolerance given in the design` }
  if (clock.source !== 'internal') return CLOCK_TOLERANCE[clock.source]
  const share = chip.internalShare
  return { share, says: `internal oscillator of the ${chip.name}, ${formatShare(share)}` }
}

/** The same for a controller by its chip's name; `undefined` where clock or chip are not known. */
export function controllerClock(
  controller: { chip: string; clock?: ClockKind } | undefined,
): { share: number; says: string } | undefined {
  const { chip, clock } = controller ?? {}
  if (!clock || chip === undefined || !Object.hasOwn(CHIPS, chip)) return undefined
  return clockTolerance(clock, CHIPS[chip as ChipId])
}

/** Frequency, Hz, and tolerance of what a timer counts. */
export function timerClock(
  clock: TimerClock,
  design: ClockDesign,
  chip: ChipInfo,
): { hz: number; share: number; says: string } {
  const own = clockTolerance(design, chip)
  const hz = clock.hz ?? design.frequency
  const internal = design.source !== 'crystal' && design.source !== 'resonator'
  if (!clock.fromInternal || internal) return { hz, ...own }
  return { hz, ...CLOCK_TOLERANCE.rc }
}
