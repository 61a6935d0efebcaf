/**
 * The whole report of a railroad with one fault in it. `tryFaults` weighs every fault by a change of the factored network;
 * here one is built into the plan and everything is solved anew, so that it has maps of its own.
 */
import { InputError, nearest } from '../../units/index.js'
import { reportSteps, type TrackOptions } from '../calculate.js'
import type { TrackLayout } from '../layout/layout.js'
import { modelPlan, type TrackInput, type TrackModel } from '../model.js'
import type { Circuit } from '../network/circuit.js'
import { type Progressive, runToEnd } from '../progress.js'
import type { TrackReport } from '../report.js'
import { type FaultId, type FaultKind, faultId } from './fault-id.js'

export interface OneFault {
  id: FaultId
  kind: FaultKind
  /** In words: `the feeder of south.3, wire A, is open`. */
  words: string
  /** With the fault: for drawings and netlists. */
  model: TrackModel
  report: TrackReport
  /** The districts' lowest voltages and weakest shorts without the fault. */
  without: {
    name: string
    worstVolt: number
    worstVoltPlace: string
    weakestShort: number
    weakestShortPlace: string
  }[]
}

const KINDS = {
  'open-feeder': 'open feeder',
  'bad-joiner': 'bad joiner',
  'swapped-feeder': 'swapped feeder',
} as const
type Kind = keyof typeof KINDS

/** Every fault that can be asked for by place, without a wire or rail. */
export function faultIds(plan: TrackLayout): FaultId[] {
  const fed = plan.feeders.filter((f) => !f.open)
  const cut = plan.joints.filter((j) => !(j.gapL && j.gapR))
  return [
    ...fed.map((f) => faultId('open feeder', f.name)),
    ...cut.map((j) => faultId('bad joiner', j.name)),
    ...fed.map((f) => faultId('swapped feeder', f.name)),
  ]
}

/**
 * The plan with the fault in it, and the fault in words.
 * @throws InputError when there is no such kind of fault, feeder or joint.
 */
export function planWithFault(
  plan: TrackLayout,
  id: FaultId,
): { plan: TrackLayout; kind: FaultKind; words: string } {
  const [, kindText = '', rest = ''] = /^([^:]*):(.*)$/s.exec(id) ?? []
  if (!Object.hasOwn(KINDS, kindText))
    throw new InputError(
      `no fault "${id}"; expected ${Object.keys(KINDS).join(':…, ')}:… with a feeder or joint, such as ${faultIds(plan)[0] ?? 'open-feeder:main'}`,
    )
  const kind = KINDS[kindText as Kind]
  const unknown = (what: string, name: string, known: string[]) => {
    const close = nearest(name, known)
    return new InputError(
      `no fault "${id}": there is no ${what} "${name}"${close ? `; the nearest is "${close}"` : ''}`,
    )
  }
  if (kind === 'bad joiner') {
    const { name, side } = sideOf(rest, ['left', 'right'], (n) => plan.joints.some((j) => j.name === n))
    const at = plan.joints.findIndex((j) => j.name === name && !(j.gapL && j.gapR))
    if (at < 0)
      throw unknown(
        'joint without gaps',
        name,
        plan.joints.map((j) => j.name),
      )
    const bad = { L: side !== 'right', R: side !== 'left' }
    const joints = plan.joints.map((j, i) => (i === at ? { ...j, bad } : j))
    const words = `the joiner${side ? '' : 's'} at ${name}${side ? `, ${side} rail,` : ''} ${side ? 'is' : 'are'} bad`
    return { plan: { ...plan, joints }, kind, words }
  }
  const { name, side } =
    kind === 'open feeder'
      ? sideOf(rest, ['A', 'B'], (n) => plan.feeders.some((f) => f.name === n))
      : { name: rest, side: undefined }
  const at = plan.feeders.findIndex((f) => f.name === name && !f.open)
  if (at < 0)
    throw unknown(
      'feeder',
      name,
      plan.feeders.filter((f) => !f.open).map((f) => f.name),
    )
  const change =
    kind === 'open feeder'
      ? { broken: { A: side !== 'B', B: side !== 'A' } }
      : { swapped: !plan.feeders[at]!.swapped }
  const feeders = plan.feeders.map((f, i) => (i === at ? { ...f, ...change } : f))
  const words =
    kind === 'swapped feeder'
      ? `the feeder of ${name} is ${plan.feeders[at]!.swapped ? 'put right' : 'swapped'}`
      : `the feeder of ${name}${side ? `, wire ${side},` : ''} is open`
  return { plan: { ...plan, feeders }, kind, words }
}

/** Names of joints have slashes too: the last part counts as a side only where the rest is a name. */
function sideOf<S extends string>(
  text: string,
  sides: readonly S[],
  isName: (name: string) => boolean,
): { name: string; side: S | undefined } {
  const cut = text.lastIndexOf('/')
  const side = sides.find((s) => s === text.slice(cut + 1))
  if (cut < 0 || !side || !isName(text.slice(0, cut))) return { name: text, side: undefined }
  return { name: text.slice(0, cut), side }
}

/**
 * Voltage map, short map and everything else of the railroad with one fault.
 * @param model, input as for `reportTrack`, without the fault.
 * @throws InputError for an unknown id.
 */
export function reportFault(
  model: TrackModel,
  input: TrackInput,
  id: FaultId,
  options: TrackOptions = {},
): OneFault {
  return runToEnd(oneFaultSteps(model, input, id, options))
}

/** {@link reportFault} in steps. */
export function* oneFaultSteps(
  model: TrackModel,
  input: TrackInput,
  id: FaultId,
  options: TrackOptions = {},
): Progressive<OneFault> {
  const { plan, kind, words } = planWithFault(model.plan, id)
  // Trains draw what they drew before at the same voltage: a fault makes no decoder work at less.
  const stands = plan.stands.map((s, i) => {
    const { a, b } = model.net.standPlace[i]!
    const open = (c: Circuit) => Math.abs(c.across(c.open, a, b))
    return { ...s, openVolt: { high: open(model.worstCase), low: open(model.bestCase) } }
  })
  const faulty = modelPlan({ ...plan, stands }, input.sources)
  const report = yield* reportSteps(faulty, input, { ...options, faults: false, positions: false })
  const before = yield* reportSteps(model, input, { faults: false, ringing: false, positions: false })
  return {
    id,
    kind,
    words,
    model: faulty,
    report,
    without: before.districts.map((d) => ({
      name: d.name,
      worstVolt: d.worstVolt.low,
      worstVoltPlace: d.worstVoltPlace,
      weakestShort: d.weakestShort.low,
      weakestShortPlace: d.weakestShortPlace,
    })),
  }
}
