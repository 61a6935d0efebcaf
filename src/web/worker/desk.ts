/** The worker that calculates: from the design's text to problems, proof, drawings and tables. */
import {
  chosenOption,
  cName,
  groupOptions,
  hasHeader,
  searchTimers,
  signalHeader,
  type TimerOption,
  whyAfter,
} from '../../controller/index.js'
import { addToDesign, profileOfDesign } from '../../design/index.js'
import { formatNumber, formatShare, formatTimeUs, InputError } from '../../units/index.js'
import { askedSteps, begun } from './begin.js'
import type { DeskCalls, TimerDetails, TimersAnswer } from './calls.js'
import { powerChanges, trackChange } from './changes.js'
import { answerCalls } from './channel.js'
import { powerFigures, trafficFigures } from './figures.js'
import { exported, Judge } from './judge.js'
import { loadOnce } from './loaded.js'
import { editRailroad, railroadAdvice, railroadFigures } from './railroad.js'
import { VERSION } from './version.js'

const judge = new Judge(VERSION)

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
  ask: async ({ given }) => ({ gives: askedSteps(given) }),
  begin: async ({ given }) => ({ gives: begun(given) }),
  judge: async (takes, { progress }) => ({
    gives: await judge.judge(takes, (judged) => progress(0.5, 'the rest follows', judged)),
  }),
  timers: async ({ text, track, pick }) => ({ gives: timers(text, track, pick) }),
  power: async ({ text }) => ({ gives: powerFigures(loadOnce(text)) }),
  track: async ({ text, fault }) => ({ gives: railroadFigures(text, fault) }),
  'track advice': async ({ text, fault }) => ({ gives: railroadAdvice(text, fault) }),
  'power changes': async ({ text }) => ({ gives: powerChanges(text) }),
  'track change': async ({ text, index }) => ({ gives: trackChange(text, index) }),
  add: async ({ text, path }) => ({ gives: addToDesign(text, [...path]) }),
  edit: async ({ text, action }) => ({ gives: editRailroad(text, action) }),
  traffic: async ({ text }) => ({ gives: trafficFigures(loadOnce(text)) }),
  export: async (takes) => ({ gives: await exported(takes) }),
})
