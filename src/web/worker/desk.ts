/** The worker that calculates: from the design's text to problems, proof, drawings and tables. */
import {
  CHIPS,
  chosenOption,
  cName,
  groupOptions,
  hasHeader,
  isSimulated,
  searchTimers,
  signalHeader,
  type TimerOption,
  whyAfter,
} from '../../controller/index.js'
import { DesignError, type LoadedDesign, profileOfDesign } from '../../design/index.js'
import {
  type CalculationMemory,
  calculate,
  type Pace,
  proofHtml,
  proofJunit,
  proofMarkdown,
} from '../../proof/index.js'
import type { Evidence } from '../../standard/index.js'
import { formatNumber, formatShare, formatTimeUs, InputError } from '../../units/index.js'
import type { DesignFacts, DeskCalls, Judged, Shown, TimerDetails, TimersAnswer } from './calls.js'
import { answerCalls } from './channel.js'
import { powerFigures, trafficFigures } from './figures.js'
import { loadOnce } from './loaded.js'
import { proveDesign } from './prove-design.js'
import { editRailroad, railroadAdvice, railroadFigures } from './railroad.js'

const memory: CalculationMemory = new Map()

/**
 * @param paces each answer but the last leaves out what takes longer
 * @param early gets the answers before the last, where something is left out of them
 */
async function judge(
  text: string,
  file: string,
  shown: readonly Shown[],
  [pace, ...later]: readonly [Pace, ...Pace[]],
  early: (judged: Judged) => void,
): Promise<Judged> {
  const started = performance.now()
  const took = () => performance.now() - started
  let loaded: LoadedDesign
  try {
    loaded = loadOnce(text, file)
  } catch (error) {
    if (error instanceof DesignError) return { problems: error.problems, tookMs: took() }
    throw error
  }
  const evidence: Evidence[] = []
  let cautions: readonly string[] = []
  let notes: readonly string[] = []
  let fault: string | undefined
  let complete = true
  try {
    const calculated = calculate(loaded, file, { memory, pace })
    complete = calculated.complete
    evidence.push(...calculated.evidence)
    cautions = calculated.cautions
    notes = calculated.notes
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    fault = error.describe()
  }
  const proof = await proveDesign(loaded, { text, file, shown, evidence, cautions, notes, fault })
  const judged: Judged = {
    problems: [],
    proof,
    facts: factsOf(loaded),
    ...(fault ? { fault } : {}),
    complete,
    tookMs: took(),
  }
  const [next, ...last] = later
  if (complete || next === undefined) return judged
  early(judged)
  // Lets a newer text come first, and what the view in sight asks when it has the answer.
  await new Promise((done) => setTimeout(done, 100))
  return judge(text, file, shown, [next, ...last], early)
}

function factsOf({ design }: LoadedDesign): DesignFacts {
  const { controller, signal, firmware } = design
  return {
    name: design.name,
    chip: controller.chip,
    chipName: CHIPS[controller.chip].name,
    pins: [...CHIPS[controller.chip].pins],
    clockHz: controller.clock.frequency,
    simulated: isSimulated(controller.chip),
    outputs: Object.entries(signal.outputs).map(([name, t]) => ({
      name,
      pin: t.pin,
      inverted: t.inverted,
      mode: t.mode,
      cutout: t.cutout,
    })),
    ...(firmware
      ? {
          firmware: {
            file: firmware.file,
            stimulus: firmware.stimulus,
            runForUs: firmware.runFor,
            skipUs: firmware.skip ?? 0,
          },
        }
      : {}),
    captures: (design.captures ?? []).map(({ file, output }) => ({ file, output })),
    parts: Object.keys(design),
  }
}

const WAY: Record<TimerOption['behaviour'], string> = {
  list: 'hardware plays a list',
  'bit-next': 'bit period, buffered',
  'half-next': 'toggle, buffered',
  'bit-now': 'bit period, top unbuffered',
  'half-now': 'toggle, unbuffered',
  pin: 'interrupt writes the pin',
}

const MISS: Partial<Record<TimerOption['behaviour'], string>> = {
  list: 'stall or repeat',
  'bit-next': 'the old bit again',
  'half-next': 'the old half again',
  pin: 'a late edge',
}

function timers(text: string, name: string, pick: string | undefined): TimersAnswer {
  const loaded = loadOnce(text)
  const { controller, signal } = loaded.design
  const track = signal.outputs[name]
  if (!track) throw new InputError(`the design has no output ${name}`)
  const { clauses } = profileOfDesign(loaded, track.cutout)
  const found = searchTimers({ controller, track, clauses })
  const choice = chosenOption({ controller, signal }, name, clauses)
  const groups = groupOptions(found.options)
  const sameWay = (o: TimerOption, g: { option: TimerOption; places: { timer: string }[] }) =>
    g.option.modeId === o.modeId &&
    g.option.divider === o.divider &&
    g.places.some((p) => p.timer === o.timer.name)
  const all = [...found.options, ...found.refused]
  const picked = pick === undefined ? choice.option : all.find((o) => o.id === pick)
  return {
    track: name,
    rows: groups.map((g, i) => {
      const o = g.option
      const before = groups[i - 1]
      return {
        id: o.id,
        way: WAY[o.behaviour],
        places: g.places
          .slice(0, 3)
          .map((p) => `${p.timer}: ${p.pins.slice(0, 2).join(' ')}${p.pins.length > 2 ? ' …' : ''}`)
          .join('; '),
        divider: o.divider,
        one: formatTimeUs(o.one.us, 5),
        zero: formatTimeUs(o.zero.us, 5),
        headroom: o.headroom,
        late: formatTimeUs(o.deadline.lateUs, 3),
        miss:
          o.deadline.pulseUs === undefined
            ? (MISS[o.behaviour] ?? '')
            : `a pulse of ${formatTimeUs(o.deadline.pulseUs, 3)}`,
        interrupts: formatNumber(o.interruptsPerSecond, 3),
        cpu: formatShare(o.cpuShare, 2),
        why: before ? whyAfter(o, before.option) : undefined,
        isChoice: choice.option !== undefined && sameWay(choice.option, g),
        hasHeader: hasHeader(o),
      }
    }),
    choice: choice.option?.id,
    leftOpen: choice.leftOpen,
    ...(picked ? { chosen: detailsOf(picked) } : {}),
    refused: groupOptions(found.refused)
      .slice(0, 30)
      .map((g) => ({
        way: `${WAY[g.option.behaviour]}, ${g.places[0]!.timer}, divider ${g.option.divider}`,
        why: g.option.refused!,
      })),
    unusableModes: found.unusableModes,
    best: found.best,
  }

  function detailsOf(o: TimerOption): TimerDetails {
    const names = Object.keys(signal.outputs)
    let header: string | undefined
    if (hasHeader(o)) {
      header = signalHeader({
        chip: controller.chip,
        clockHz: controller.clock.frequency,
        option: o,
        track: name,
        prefix: names.length === 1 ? 'halfbit' : `halfbit_${cName(name)}`,
        ...(track!.preamble === undefined ? {} : { preamble: track!.preamble }),
        clauses,
      })
    }
    return {
      id: o.id,
      mode: `${o.timer.name}, ${o.mode}`,
      because: o.because,
      settings: o.settings.map((s) => ({
        register: s.register,
        value:
          s.number === undefined
            ? s.value
            : `0x${s.number.toString(16).toUpperCase().padStart(2, '0')} ${s.value}`,
        says: s.says,
      })),
      loads: o.loads.map((l) => ({
        register: l.register,
        one: String(l.one),
        zero: String(l.zero),
        says: l.says,
      })),
      occupies: o.occupies,
      status: o.status,
      header,
      set: {
        method: o.method,
        timer: o.timer.number,
        prescaler: o.divider,
        pin: o.pin,
        inverted: o.inverted,
      },
    }
  }
}

answerCalls<DeskCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  judge: async ({ text, file, shown }, { progress }) => ({
    // At first everything is to be calculated: what needs next to nothing comes before the rest.
    gives: await judge(
      text,
      file,
      shown,
      memory.size === 0 ? ['at once', 'soon', 'slow'] : ['soon', 'slow'],
      (judged) => progress(0.5, 'the rest follows', judged),
    ),
  }),
  timers: async ({ text, track, pick }) => ({ gives: timers(text, track, pick) }),
  power: async ({ text }) => ({ gives: powerFigures(loadOnce(text)) }),
  track: async ({ text, fault }) => ({ gives: railroadFigures(text, fault) }),
  'track advice': async ({ text, fault }) => ({ gives: railroadAdvice(text, fault) }),
  edit: async ({ text, action }) => ({ gives: editRailroad(text, action) }),
  traffic: async ({ text }) => ({ gives: trafficFigures(loadOnce(text)) }),
  export: async ({ proof, form }) => ({
    gives: {
      html: proofHtml,
      md: proofMarkdown,
      junit: proofJunit,
      json: (p: typeof proof) => `${JSON.stringify(p, null, 2)}\n`,
    }[form](proof),
  }),
})
