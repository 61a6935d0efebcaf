/** The ways a controller can make an output's signal, for the Controller stage. */
import {
  chosenOption,
  cName,
  groupOptions,
  hasHeader,
  searchTimers,
  signalHeader,
  TIMER_WAY,
  type TimerOption,
  whyAfter,
} from '../../controller/index.js'
import { profileOfDesign } from '../../design/index.js'
import { formatNumber, formatShare, formatTimeUs, InputError } from '../../units/index.js'
import type { TimerDetails, TimersAnswer } from './calls.js'
import { loadOnce } from './loaded.js'

const MISS: Partial<Record<TimerOption['behaviour'], string>> = {
  list: 'stall or repeat',
  'bit-next': 'the old bit again',
  'half-next': 'the old half again',
  pin: 'a late edge',
}

export function timers(text: string, name: string, pick: string | undefined): TimersAnswer {
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
        way: TIMER_WAY[o.behaviour],
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
        way: `${TIMER_WAY[g.option.behaviour]}, ${g.places[0]!.timer}, divider ${g.option.divider}`,
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
