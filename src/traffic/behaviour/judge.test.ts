import { describe, expect, it } from 'vitest'
import type { Command } from '../../controller/index.js'
import { encodePacket, type Packet } from '../../packet/index.js'
import { profileOf, type Statement } from '../../standard/index.js'
import type { Locomotive } from '../plan.js'
import { type BehaviourInput, judgeBehaviour } from './judge.js'
import type { HeardPacket } from './told.js'

const profile = profileOf({ profile: 'nmra', edition: '2020', scale: 'H0', cutout: false })
const PACKET_US = 8000
const forward = (address: number, step: number, reverse = false): Packet => ({
  kind: 'speed-126',
  target: address < 128 ? { kind: 'short', address } : { kind: 'long', address },
  step,
  forward: !reverse,
  emergency: false,
})
const lights = (address: number, on: number[]): Packet => ({
  kind: 'functions',
  target: { kind: 'short', address },
  group: 0,
  on,
})
const STOP: Packet = { kind: 'broadcast-stop', forward: true, directionIgnored: true, immediate: true }
const IDLE: Packet = { kind: 'idle' }

/** What a station sends: for each packet's turn, what its state at that time asks for. */
function sent(ranUs: number, at: (us: number, turn: number) => Packet): HeardPacket[] {
  const list: HeardPacket[] = []
  for (let us = 0, turn = 0; us + PACKET_US <= ranUs; us += PACKET_US, turn++)
    list.push({ timeUs: us, endUs: us + PACKET_US - 200, bytes: encodePacket(at(us, turn)), valid: true })
  return list
}

const fleet = [
  { address: 3, addressee: 3, name: 'shunter', design: { timeout: 1e6 } },
  { address: 1234, addressee: 0x10000 | 1234, name: 'express', design: { timeout: 1e6 } },
] as Locomotive[]

const go = (timeUs: number, address: number, step: number, forwards = true): Command => ({
  kind: 'speed',
  address,
  speed: step / 126,
  forward: step === 0 ? undefined : forwards,
  timeUs,
  text: `go ${address} ${forwards ? '' : '-'}${step}`,
})

function judged(commands: Command[] | undefined, packets: HeardPacket[], more: Partial<BehaviourInput> = {}) {
  const list = judgeBehaviour({
    ...(commands ? { commands } : {}),
    bytes: 10 * (commands?.length ?? 0),
    fullSpeed: 126,
    rampUs: 0,
    outputs: [{ name: 'main', mode: 'operations', packets }],
    locomotives: fleet,
    limitUs: 250e3,
    ranUs: 3e6,
    source: '3 s of station.elf',
    profile,
    ...more,
  })
  const of = (clause: string) => list.filter((s) => s.clause === clause)
  const verdicts = (clause: string) => [...new Set(of(clause).map((s) => s.verdict))].sort()
  return { list, of, latency: verdicts('command-latency'), refresh: verdicts('refresh') }
}
const codes = (list: readonly Statement[]) => list.map((s) => s.finding?.code)

describe('a station that obeys', () => {
  const commands = [
    go(100e3, 3, 60),
    go(500e3, 3, 60, false),
    { kind: 'stop', timeUs: 2e6, text: 'halt' } as const,
  ]
  const state = (us: number) =>
    us < 120e3 ? IDLE : us < 520e3 ? forward(3, 60) : us < 2.02e6 ? forward(3, 60, true) : forward(3, 0)
  const good = () => sent(3e6, (us) => state(us))

  it('is met, with the slowest command and the longest pause', () => {
    const { list, latency, refresh } = judged(commands, good())
    expect(latency).toEqual(['met'])
    expect(refresh).toEqual(['met'])
    const [first] = list
    // The stop comes at 2 s; the packet that carries it starts at 2024 ms and ends 7.8 ms later.
    expect(first).toMatchObject({ count: { seen: 3, outside: 0 } })
    expect('value' in first! && first.value.high).toBeCloseTo(31.8e3, 3)
  })

  it.each([
    ['hears nothing', () => sent(3e6, () => IDLE), 'traffic/command-not-heard'],
    [
      'obeys for another address',
      () => sent(3e6, (us) => (us > 120e3 ? forward(4, 60) : IDLE)),
      'traffic/command-not-heard',
    ],
    [
      'takes the short address for a long one',
      () =>
        sent(3e6, (us) =>
          us > 120e3 ? ({ ...forward(3, 60), target: { kind: 'long', address: 3 } } as Packet) : IDLE,
        ),
      'traffic/command-not-heard',
    ],
    [
      'drives the wrong way',
      () => sent(3e6, (us) => (us > 120e3 ? forward(3, 60, us < 500e3) : IDLE)),
      'traffic/command-not-heard',
    ],
    [
      'drives at another speed',
      () => sent(3e6, (us) => (us > 120e3 ? forward(3, 59) : IDLE)),
      'traffic/command-not-heard',
    ],
    [
      'never stops',
      () => sent(3e6, (us) => (us < 2e6 ? state(us) : forward(3, 60, true))),
      'traffic/command-not-heard',
    ],
    [
      'stops late',
      () => sent(3e6, (us) => (us < 2.3e6 ? state(Math.min(us, 2e6)) : forward(3, 0))),
      'traffic/command-late',
    ],
    [
      'starts again after the stop',
      () => sent(3e6, (us) => (us < 2.5e6 ? state(us) : forward(3, 60, true))),
      'traffic/command-undone',
    ],
    [
      'goes back to the old speed',
      () => sent(3e6, (us, turn) => (us > 600e3 && us < 2e6 && turn % 40 === 0 ? forward(3, 60) : state(us))),
      'traffic/command-undone',
    ],
  ] as const)('is broken when it %s', (_, packets, code) => {
    const { latency, of } = judged(commands, packets())
    expect(latency).toContain('broken')
    expect(codes(of('command-latency'))).toContain(code)
  })

  it('is broken in refresh when it falls silent, or never repeats the state', () => {
    const silent = good().filter((p) => p.timeUs < 800e3 || p.timeUs > 1.9e6)
    expect(judged(commands, silent).refresh).toEqual(['broken'])
    const once = sent(3e6, (us) => (us % 1.6e6 < 200e3 ? state(us) : IDLE))
    expect(judged([go(100e3, 3, 60)], once).refresh).toEqual(['broken'])
  })

  it('is undecided in refresh when the run is shorter than the time-out, or none is known', () => {
    const packets = sent(1e6, (us) => (us < 120e3 ? IDLE : forward(3, 60)))
    expect(judged([go(100e3, 3, 60)], packets, { ranUs: 1e6 }).refresh).toEqual(['undecided'])
    expect(judged([go(100e3, 3, 60)], good(), { locomotives: [] }).refresh).toContain('undecided')
  })

  it('is undecided when a train moves that nobody commanded', () => {
    const packets = sent(3e6, (us, turn) => (turn % 7 === 3 ? forward(5, 20) : state(us)))
    const { latency, of } = judged(commands, packets)
    expect(latency).toEqual(['met', 'undecided'])
    expect(codes(of('command-latency'))).toContain('traffic/uncommanded')
  })

  it('says that the train has a long address where a short one with that number was commanded', () => {
    const long3: Packet = { ...forward(1234, 60), target: { kind: 'long', address: 3 } } as Packet
    const packets = sent(3e6, (us, turn) => (turn % 7 === 3 ? long3 : state(us)))
    const because = judged(commands, packets)
      .of('command-latency')
      .map((s) => s.because)
    expect(because.join()).toMatch('locomotive long 3 is started')
  })
})

it('functions are followed one by one, in whatever group they are sent', () => {
  const on: Command = {
    kind: 'function',
    address: 3,
    function: 0,
    on: true,
    timeUs: 100e3,
    text: 'key 3 0 on',
  }
  const F2: Command = {
    kind: 'function',
    address: 3,
    function: 2,
    on: true,
    timeUs: 100e3,
    text: 'key 3 2 on',
  }
  const packets = sent(3e6, (us) => (us < 120e3 ? IDLE : lights(3, [0, 2])))
  expect(judged([on, F2], packets).latency).toEqual(['met'])
  expect(judged([on, F2], packets).refresh).toEqual(['met'])
  const without = sent(3e6, (us) => (us < 120e3 ? IDLE : lights(3, [0])))
  expect(judged([on, F2], without).latency).toContain('broken')
})

it('a knob that is turned quickly does not count for the positions in between', () => {
  const turn = [10, 20, 30, 40].map((step, i) => go(100e3 + 20e3 * i, 3, step))
  const packets = sent(3e6, (us) => (us < 250e3 ? IDLE : forward(3, 40)))
  const { list, latency } = judged(turn, packets)
  expect(latency).toEqual(['met'])
  expect(list[0]).toMatchObject({ count: { seen: 1, outside: 0 } })
})

it('a ramp of the station is allowed where the design says so, and no longer', () => {
  const packets = sent(3e6, (us) => forward(3, Math.min(60, Math.floor(Math.max(0, us - 100e3) / 20e3))))
  expect(judged([go(100e3, 3, 60)], packets, { rampUs: 1.3e6 }).latency).toEqual(['met'])
  expect(judged([go(100e3, 3, 60)], packets).latency).toEqual(['broken'])
})

it('a language with another scale is matched within one step of the coarser one', () => {
  const percent: Command = { ...go(100e3, 3, 63), speed: 0.5 } as Command
  const packets = (step: number) => sent(3e6, (us) => (us < 120e3 ? IDLE : forward(3, step)))
  expect(judged([percent], packets(63), { fullSpeed: 100 }).latency).toEqual(['met'])
  expect(judged([percent], packets(66), { fullSpeed: 100 }).latency).toEqual(['broken'])
})

it('nothing is shown without patterns or commands, and says why', () => {
  for (const { list, code } of [
    {
      list: judged(
        undefined,
        sent(1e6, () => STOP),
      ).list,
      code: 'traffic/no-command-pattern',
    },
    {
      list: judged(
        [],
        sent(1e6, () => STOP),
      ).list,
      code: 'traffic/no-commands',
    },
  ]) {
    expect(list.map((s) => [s.clause, s.verdict])).toEqual([
      ['command-latency', 'not shown'],
      ['refresh', 'not shown'],
    ])
    expect(new Set(codes(list))).toEqual(new Set([code]))
  }
})

it('a command that the end of the run cuts off decides nothing', () => {
  const { latency } = judged(
    [go(2.9e6, 3, 60)],
    sent(3e6, () => IDLE),
  )
  expect(latency).toEqual(['undecided'])
})

it('service-mode commands must become packets of the same CV and value', () => {
  const write: Command = { kind: 'write', cv: 29, value: 6, timeUs: 100e3, text: 'write 29 6' }
  const direct = (value: number): Packet => ({
    kind: 'service-direct',
    access: { op: 'write', cv: 29, value },
  })
  const service = (value: number) =>
    judged([write], [], {
      outputs: [{ name: 'service', mode: 'service', packets: sent(3e6, () => direct(value)) }],
    }).of('service-sequence')
  expect(service(6)).toMatchObject([{ verdict: 'met', count: { seen: 1, outside: 0 } }])
  expect(service(7)).toMatchObject([{ verdict: 'broken', count: { seen: 1, outside: 1 } }])
})

describe('a decoder that reads 14 steps', () => {
  const locomotives = [
    { address: 5, addressee: 5, name: 'railcar', design: { timeout: 1e6, steps: '14' } },
  ] as Locomotive[]
  const speed = (of: 14 | 28, step: number, headlight: boolean): Packet => ({
    kind: 'speed',
    target: { kind: 'short', address: 5 },
    of,
    step,
    forward: true,
    emergency: false,
    directionIgnored: false,
    headlight,
  })
  const light: Command = { kind: 'function', address: 5, function: 0, on: true, timeUs: 500e3, text: 'light' }
  const sends = (packet: (lit: boolean, turn: number) => Packet) =>
    judged(
      [go(100e3, 5, 63), light],
      sent(3e6, (us, turn) => (us < 120e3 ? IDLE : packet(us > 520e3, turn))),
      { locomotives },
    )

  it('has its headlight in the speed instruction; bit 4 of group one means nothing to it', () => {
    const { latency, refresh } = sends((lit, turn) => (turn % 2 ? lights(5, []) : speed(14, 7, lit)))
    expect([latency, refresh]).toEqual([['met'], ['met']])
  })

  it('is not lit by group one', () => {
    const { of, latency } = sends((lit, turn) => (turn % 2 ? lights(5, lit ? [0] : []) : speed(14, 7, false)))
    expect(latency).toContain('broken')
    expect(of('command-latency')[0]).toMatchObject({ finding: { params: { first: 'light', missing: 1 } } })
  })

  it('lights up by the low step bit of 28 steps', () => {
    const packets = sent(3e6, (us) => (us < 120e3 ? IDLE : speed(28, 14, false)))
    const { of } = judged([go(100e3, 5, 63), { ...light, on: false }], packets, { locomotives })
    expect(of('command-latency')[0]).toMatchObject({
      verdict: 'broken',
      finding: { params: { first: 'light', missing: 1 } },
    })
  })
})
