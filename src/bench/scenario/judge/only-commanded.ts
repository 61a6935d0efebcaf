/** No decoder does what nobody has commanded: start, stop, change its speed, or switch a function. */
import type { Command } from '../../../controller/index.js'
import type { Finding } from '../../../finding/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { BenchDecoder } from '../../station/setup.js'
import { onService } from '../check.js'
import { isRestart } from '../deed.js'
import { isTold, STEPS } from '../heard.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import type { DecoderState } from '../trace.js'

/** A command that has come in is on the rails so late although another came after it, us. */
const OVERTAKEN_US = 250e3
/** An event of a decoder and the state that is noted after it are no further apart, us. */
const SAME_TIME_US = 20e3

export function onlyCommanded(_: true | boolean, { trace, setup }: Played): Found[] {
  const commands = trace.commands()
  const found = setup.decoders.flatMap((d): Found[] => {
    const about = d.name
    const own = commands.filter((c) => isFor(c, d))
    const wrong = firstWrong(d, { trace, setup }, own)
    if (wrong) return [{ about, verdict: 'broken', ...wrong }]
    // The one on the service track hears what is sent there.
    const driven =
      d.name === onService(setup)?.name ? undefined : own.find((c) => c.kind === 'speed' && c.speed > 0)
    if (driven && trace.moves(d.name).length === 0)
      return [
        {
          about,
          verdict: 'broken',
          finding: SAYS.find('never-moves', { decoder: d.name, command: driven.text }),
          timeUs: driven.timeUs,
        },
      ]
    return []
  })
  if (found.length > 0) return found
  // Silence shows nothing: with no packet on any track nothing could have moved.
  const packets = [...trace.ears.values()].reduce((sum, ear) => sum + ear.count, 0)
  const districts = setup.districts.filter((d) => trace.switchings(d.name).some((s) => s.on))
  if (packets === 0 || districts.length === 0)
    return [{ about: 'every track', verdict: 'not shown', finding: SAYS.find('nothing-sent', {}) }]
  const finding = SAYS.find('only-commanded', { trains: setup.decoders.length })
  return [{ about: 'every track', verdict: 'met', finding }]
}

function isFor(c: Command, { address }: BenchDecoder): boolean {
  return c.kind === 'stop' || ('address' in c && c.address === address)
}

type Wrong = { timeUs: number; finding: Finding }

/** The first change of a decoder that no command accounts for. */
function firstWrong(
  d: BenchDecoder,
  { trace, setup }: Pick<Played, 'trace' | 'setup'>,
  all: readonly Command[],
): Wrong | undefined {
  const decoder = d.name
  const states = trace.states.get(decoder) ?? []
  const restarts = trace.done.filter((a) => isRestart(a.act)).map((a) => a.timeUs)
  const { fullSpeed = STEPS, ramp = 0 } = setup.commands ?? {}
  const analog = trace.run.decoder(decoder)?.events.find((e) => e.kind === 'analog')
  for (const [i, now] of states.entries()) {
    const before = states[i - 1]
    const { timeUs, told } = now
    if (!before || !now.powered) continue
    // What came before the program began anew is forgotten.
    const since = restarts.findLast((t) => t <= timeUs) ?? 0
    const own = all.filter((c) => c.timeUs <= timeUs && c.timeUs >= since)
    const atUs = timeUs
    if (analog && Math.abs(analog.timeUs - timeUs) <= SAME_TIME_US)
      return { timeUs, finding: SAYS.find('moves-uncommanded', { decoder, atUs }) }
    if (told !== 0 && before.told === 0 && !mayMove(timeUs, own, states))
      return { timeUs, finding: SAYS.find('moves-uncommanded', { decoder, atUs }) }
    const speeds = inForce(own, timeUs, (c) => isSpeed(c))
    const boundUs = bindsFrom(d, timeUs, trace)
    // A station that speeds trains up by itself tells them what lies between, and a consist has another address.
    const isOwn = ramp === 0 && (d.cvs[19] ?? 0) === 0
    const fits = speeds.some((c) => c.kind === 'speed' && isTold(now, c.speed, c.forward, fullSpeed))
    if (isOwn && told !== 0 && told !== before.told && !fits)
      return { timeUs, finding: SAYS.find('speed-uncommanded', { decoder, atUs, share: Math.abs(told) }) }
    const bound = own.filter((c) => c.timeUs >= boundUs)
    const isStopped = isOwn && told === 0 && before.told !== 0 && before.powered
    if (isStopped && !stopsByItself(timeUs, d, trace) && drivesOn(bound, timeUs))
      return { timeUs, finding: SAYS.find('stops-uncommanded', { decoder, atUs }) }
    for (const f of switchedOn(before, now)) {
      const last = inForce(own, timeUs, (c) => c.kind === 'function' && c.function === f)
      if (!last.some((c) => c.kind === 'function' && c.on))
        return { timeUs, finding: SAYS.find('switches-uncommanded', { decoder, number: f, on: true, atUs }) }
    }
    // A stop may be sent as a reset, which switches functions off too.
    const sinceStop = bound.filter((c) => c.timeUs > (bound.findLast(isHalt)?.timeUs ?? 0))
    for (const f of before.powered ? switchedOn(now, before) : []) {
      const last = inForce(sinceStop, timeUs, (c) => c.kind === 'function' && c.function === f)
      if (last.length > 0 && last.every((c) => c.kind === 'function' && c.on))
        return { timeUs, finding: SAYS.find('switches-uncommanded', { decoder, number: f, on: false, atUs }) }
    }
  }
  return undefined
}

/**
 * Commands before this time bind the station no more, us: it may stop a train after power was off, once service mode or
 * a word outside the design's language was asked for, and after it was told to forget the train.
 */
function bindsFrom(d: BenchDecoder, timeUs: number, trace: Played['trace']): number {
  const dark = trace.switchings(d.district).filter((s) => !s.on)
  const releases = trace
    .commands()
    .filter((c) => RELEASING.has(c.kind) || (c.kind === 'forget' && c.address === d.address))
  const asked = trace.done.filter((a) => a.act.send !== undefined || a.act.hold !== undefined)
  return Math.max(0, ...[...dark, ...releases, ...asked].map((e) => e.timeUs).filter((us) => us <= timeUs))
}

const RELEASING: ReadonlySet<Command['kind']> = new Set([
  'powerOff',
  'powerOn',
  'serviceOn',
  'serviceOff',
  'write',
  'verify',
  'read',
])

/** It heard nothing for its time-out, or had derailed or lost its power meanwhile. */
function stopsByItself(timeUs: number, d: BenchDecoder, trace: Played['trace']): boolean {
  const { events = [] } = trace.run.decoder(d.name) ?? {}
  return events.some(
    (e) => (e.kind === 'timed out' || e.kind === 'power lost') && Math.abs(e.timeUs - timeUs) <= SAME_TIME_US,
  )
}

/** The commands in force are all to move; one that has just come in may be sent as a stop first, to turn a train round. */
function drivesOn(commands: readonly Command[], timeUs: number): boolean {
  const last = inForce(commands, timeUs, isSpeed)
  const latestUs = last.at(-1)?.timeUs ?? 0
  return (
    last.length > 0 &&
    timeUs - latestUs > OVERTAKEN_US &&
    last.every((c) => c.kind === 'speed' && c.speed > 0)
  )
}

const isHalt = (c: Command) => c.kind === 'stop' || c.kind === 'stopOne'

const isSpeed = (c: Command) => c.kind === 'speed' || isHalt(c)

/** The latest command of a kind, and those that another took the place of only just now. */
function inForce(commands: readonly Command[], timeUs: number, isIt: (c: Command) => boolean): Command[] {
  const list = commands.filter(isIt)
  return list.filter((_, i) => timeUs <= (list[i + 1]?.timeUs ?? Number.POSITIVE_INFINITY) + OVERTAKEN_US)
}

function switchedOn(a: DecoderState, b: DecoderState): number[] {
  const was = a.functions.split(' ')
  return b.functions
    .split(' ')
    .filter((f) => f !== '' && !was.includes(f))
    .map(Number)
}

/** A start follows a command to move, and no command to stop has come in between that was acted on or should have been. */
function mayMove(timeUs: number, commands: readonly Command[], states: readonly DecoderState[]): boolean {
  const moves = (c: Command) => c.kind === 'speed' && c.speed > 0
  const before = commands.filter(isSpeed)
  const at = before.findLastIndex(moves)
  const stop = before[at + 1]
  if (at < 0 || !stop) return at >= 0
  // Between the two commands it may move for an instant, once.
  const moved = states.some((s) => s.told !== 0 && s.timeUs > before[at]!.timeUs && s.timeUs < timeUs)
  return !moved && timeUs - stop.timeUs <= OVERTAKEN_US
}
