/** Everything of a run that a drawing shows over time, as plain data. */
import type { SerialByte } from '../../controller/index.js'
import { decodePacket, describePacket } from '../../packet/index.js'
import type { Trace } from './trace.js'

export interface AnalogSignal {
  name: string
  unit: 'A' | 'V' | 'share'
  /** A step line: each value holds until the next. */
  points: { timeUs: number; value: number }[]
}

/** Something that is in one of several states, by name, from a time on. */
export interface StateSignal {
  name: string
  states: { timeUs: number; state: string }[]
}

export interface PinSignal {
  name: string
  edges: { timeUs: number; level: 0 | 1 }[]
}

export interface Signals {
  endUs: number
  analog: AnalogSignal[]
  /** Whether each district has power. */
  states: StateSignal[]
  packets: { output: string; endUs: number; hex: string; says: string }[]
  /** Pins that steer drivers, but not those of the signal. */
  pins: PinSignal[]
  /** What went in and came out on the serial line, line by line. */
  serial: { timeUs: number; from: 'station' | 'outside'; text: string }[]
}

/** More packets than that are not written out: half an hour of a busy station. */
const MOST_PACKETS = 100_000
const MOST_LINES = 20_000

export function signalsOf(trace: Trace, ranUs: number): Signals {
  const { run, setup } = trace
  const packets = [...trace.ears.values()].flatMap((ear) => {
    const mode = setup.outputs.find((o) => o.name === ear.name)!.mode
    return ear.packets.slice(0, MOST_PACKETS).map(({ endUs, bytes }) => {
      const { packet } = decodePacket(bytes, { mode })
      const hex = [...bytes].map((b) => b.toString(16).padStart(2, '0').toUpperCase()).join(' ')
      return {
        output: ear.name,
        endUs,
        hex,
        says: packet ? describePacket(packet) : 'no packet of the standard',
      }
    })
  })
  const districts = setup.districts.map((d) => d.name)
  return {
    endUs: ranUs,
    analog: [
      ...districts.map((name): AnalogSignal => {
        const points = (run.amps.get(name) ?? []).map(({ timeUs, amp }) => ({ timeUs, value: amp }))
        return { name, unit: 'A', points }
      }),
      ...districts.map((name): AnalogSignal => {
        const points = (run.volts.get(name) ?? []).map(({ timeUs, volt }) => ({ timeUs, value: volt }))
        return { name, unit: 'V', points }
      }),
      ...[...trace.states].map(([name, states]): AnalogSignal => {
        return { name, unit: 'share', points: states.map((s) => ({ timeUs: s.timeUs, value: s.told })) }
      }),
    ],
    states: [
      ...districts.map((name): StateSignal => {
        const switched = trace
          .switchings(name)
          .map(({ timeUs, on }) => ({ timeUs, state: on ? 'on' : 'off' }))
        return { name, states: [{ timeUs: 0, state: 'off' }, ...switched] }
      }),
      ...[...trace.states].map(([name, states]): StateSignal => {
        const said = states.map((s) => {
          const driving = s.told === 0 ? 'stopped' : `${Math.round(100 * s.told)} %`
          const state = s.powered
            ? `${driving}${s.functions ? `, F${s.functions.replace(/ /g, ' F')}` : ''}`
            : 'no power'
          return { timeUs: s.timeUs, state }
        })
        return { name, states: said }
      }),
    ],
    packets: packets.sort((a, b) => a.endUs - b.endUs).slice(0, MOST_PACKETS),
    pins: trace.pins,
    serial: [
      ...lines(trace.bytesIn).map((l) => ({ ...l, from: 'outside' as const })),
      ...lines(run.answers).map((l) => ({ ...l, from: 'station' as const })),
    ].sort((a, b) => a.timeUs - b.timeUs),
  }
}

/** Bytes as lines; a line has the time of its last byte. What is no letter is written as \xHH. */
function lines(bytes: readonly SerialByte[]): { timeUs: number; text: string }[] {
  const list: { timeUs: number; text: string }[] = []
  let text = ''
  let last = 0
  const end = () => {
    if (text !== '' && list.length < MOST_LINES) list.push({ timeUs: last, text })
    text = ''
  }
  for (const { value, timeUs } of bytes) {
    // Bytes far apart are not one line, whatever the language is.
    if (text !== '' && timeUs - last > 50e3) end()
    last = timeUs
    if (value === 10 || value === 13) end()
    else if (value >= 32 && value < 127) text += String.fromCharCode(value)
    else text += `\\x${value.toString(16).padStart(2, '0')}`
  }
  end()
  return list
}
