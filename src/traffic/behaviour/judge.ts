/** What the firmware did with the commands of a run, clause by clause: simulated, never calculated. */
import type { Command } from '../../controller/index.js'
import type { Finding } from '../../finding/index.js'
import { decodePacket, nameAddressee } from '../../packet/index.js'
import {
  type ClauseId,
  type Evidence,
  marginWithin,
  notShown,
  type Place,
  type Profile,
  type Statement,
  type Verdict,
} from '../../standard/index.js'
import { formatBytes } from '../../units/index.js'
import { TRAFFIC_FINDINGS as SAYS } from '../findings.data.js'
import type { Locomotive } from '../plan.js'
import { type FollowedCommand, type FollowOptions, followCommands, uncommanded } from './follow.js'
import { type HeardPacket, toldBy } from './told.js'

export interface BehaviourOutput {
  name: string
  mode: 'operations' | 'service'
  packets: readonly HeardPacket[]
}

export interface BehaviourInput {
  /** What came in on the serial line; absent where the design does not say how commands look. */
  commands?: readonly Command[]
  /** Bytes that came in, commands or not. */
  bytes: number
  /** What {speed} says at full speed. */
  fullSpeed: number
  rampUs: number
  outputs: readonly BehaviourOutput[]
  /** Output that the locomotives run on, where the design says. */
  fleetOutput?: string | undefined
  locomotives: readonly Locomotive[]
  /** Time within which 95 of 100 commands must be heard, us. */
  limitUs: number
  ranUs: number
  /** `5 s of station.elf`. */
  source: string
  file?: string
  profile: Profile
}

/** Latest time for a service-mode command to become packets, us: 20 packets of power-up and more may come first. */
const SERVICE_WAIT_US = 2e6
/** Share of commands that may be late: the clause speaks of 95 of 100. */
const LATE_SHARE = 0.05

/** Evidence for `command-latency` and `refresh` of each operations output, and for service-mode commands. */
export function judgeBehaviour(input: BehaviourInput): Statement[] {
  const operations = operationsOutputs(input)
  const list: Statement[] = []
  for (const output of operations) list.push(...judgeOutput(output, input))
  for (const output of input.outputs) if (output.mode === 'service') list.push(...judgeService(output, input))
  return list
}

function operationsOutputs({ outputs, fleetOutput }: BehaviourInput): BehaviourOutput[] {
  const list = outputs.filter((o) => o.mode === 'operations')
  return fleetOutput === undefined ? list : list.filter((o) => o.name === fleetOutput)
}

interface Saying {
  verdict: Verdict
  finding: Finding
  low: number
  high: number
  max: number | undefined
  count: { seen: number; outside: number }
  where?: Place
}

function judgeOutput(output: BehaviourOutput, input: BehaviourInput): Statement[] {
  const { commands, source, profile, limitUs, ranUs, locomotives, fullSpeed, rampUs } = input
  const about = { about: output.name }
  const neither = (finding: Finding) =>
    (['command-latency', 'refresh'] as const).map((id) => notShown(id, 'simulated', finding, about))
  if (commands === undefined) return neither(SAYS.find('no-command-pattern', {}))
  const options: FollowOptions = {
    addressees: addresseesOf(locomotives),
    fullSpeed,
    limitUs,
    rampUs,
    ranUs,
  }
  const in14 = new Set(locomotives.filter((l) => l.design.steps === '14').map((l) => l.addressee))
  const told = output.packets.flatMap((p) => toldBy(p, (addressee) => in14.has(addressee)) ?? [])
  const followed = followCommands(commands, told, options)
  if (followed.length === 0) return neither(SAYS.find('no-commands', { source, bytes: input.bytes }))
  const evidence = (clause: ClauseId, s: Saying): Evidence => ({
    clause,
    origin: 'simulated',
    ...about,
    verdict: s.verdict,
    value: { low: s.low, high: s.high, unit: profile.clauses[clause].unit },
    margin: marginOf(s),
    count: s.count,
    where: { ...(input.file === undefined ? {} : { file: input.file }), ...s.where },
    because: s.finding.sentence,
    finding: s.finding,
  })
  const list: Statement[] = latency(followed, input).map((s) => evidence('command-latency', s))
  const stray = uncommanded(commands, told, options)
  if (stray.length > 0) list.push(evidence('command-latency', strayOf(stray, input)))
  list.push(...refresh(followed, input).map((s) => evidence('refresh', s)))
  return list
}

function marginOf({ verdict, high, max }: Saying): number {
  if (max === undefined) return verdict === 'met' ? 1 : verdict === 'broken' ? -1 : 0
  const margin = marginWithin(0, high, { max })
  return verdict === 'broken' ? Math.min(margin, -0.01) : margin
}

/** Short or long, as the fleet says; of a number that is not in the fleet either. */
function addresseesOf(locomotives: readonly Locomotive[]): FollowOptions['addressees'] {
  const fleet = new Map<number, Set<number>>()
  for (const l of locomotives) fleet.set(l.address, (fleet.get(l.address) ?? new Set()).add(l.addressee))
  return (address) =>
    fleet.get(address) ?? new Set([LONG_ADDRESS | address, ...(address < 128 ? [address] : [])])
}

/** As `addresseeOf` marks two-byte addresses. */
const LONG_ADDRESS = 0x10000

function latency(followed: readonly FollowedCommand[], input: BehaviourInput): Saying[] {
  const { limitUs, ranUs, source, rampUs } = input
  const allowedUs = (f: FollowedCommand) => limitUs + (f.state.matter === 'speed' ? rampUs : 0)
  const counted = followed.filter((f) => !f.superseded)
  const waitedUs = (f: FollowedCommand) => f.untilUs - f.command.timeUs
  // The run may end before an answer is due.
  const waiting = counted.filter(
    (f) => f.heardUs === undefined && waitedUs(f) < allowedUs(f) && f.untilUs >= ranUs,
  )
  const missing = counted.filter((f) => f.heardUs === undefined && !waiting.includes(f))
  const heard = counted.filter((f) => f.heardUs !== undefined)
  const tookUs = (f: FollowedCommand) => f.heardUs! - f.command.timeUs
  const list: Saying[] = []
  const seen = heard.length + missing.length
  if (missing.length > 0) {
    const [first] = missing
    const high = Math.max(...missing.map(waitedUs))
    list.push({
      verdict: 'broken',
      finding: SAYS.find('command-not-heard', {
        source,
        missing: missing.length,
        commands: seen,
        first: first!.command.text,
        waitedUs: waitedUs(first!),
      }),
      low: 0,
      high,
      max: limitUs,
      count: { seen, outside: missing.length },
      where: { timeUs: first!.command.timeUs, address: String(first!.state.address) },
    })
  }
  const undone = heard.filter((f) => f.contradiction)
  if (undone.length > 0) {
    const [first] = undone
    const { packet } = first!.contradiction!
    list.push({
      verdict: 'broken',
      finding: SAYS.find('command-undone', {
        source,
        undone: undone.length,
        first: first!.command.text,
        packet: formatBytes(packet.bytes),
        atUs: packet.timeUs,
      }),
      low: 0,
      high: packet.timeUs - first!.command.timeUs,
      max: undefined,
      count: { seen, outside: undone.length },
      where: {
        timeUs: packet.timeUs,
        address: String(first!.state.address),
        packet: formatBytes(packet.bytes),
      },
    })
  }
  if (heard.length > 0) {
    const late = heard.filter((f) => tookUs(f) > allowedUs(f))
    const worst = heard.reduce((a, b) => (tookUs(b) - allowedUs(b) > tookUs(a) - allowedUs(a) ? b : a))
    // A stop is never one of the five that may be late.
    const lateStop = late.some((f) => f.command.kind === 'stop' || f.command.kind === 'stopOne')
    const broken = lateStop || late.length / heard.length > LATE_SHARE
    const common = { source, commands: heard.length, worst: worst.command.text, worstUs: tookUs(worst) }
    list.push({
      verdict: broken ? 'broken' : 'met',
      finding: broken
        ? SAYS.find('command-late', { ...common, late: late.length, limitUs: allowedUs(worst) })
        : SAYS.find('commands-heard', {
            ...common,
            limitUs: allowedUs(worst),
            superseded: followed.length - counted.length,
          }),
      low: Math.min(...heard.map(tookUs)),
      high: tookUs(worst),
      max: allowedUs(worst),
      count: { seen: heard.length, outside: late.length },
      where: { timeUs: worst.command.timeUs, address: String(worst.state.address) },
    })
  } else if (missing.length === 0)
    list.push({
      verdict: 'undecided',
      finding: SAYS.find('run-too-short', { source, waiting: waiting.length }),
      low: 0,
      high: 0,
      max: undefined,
      count: { seen: waiting.length, outside: 0 },
    })
  return list
}

function strayOf(
  stray: readonly ReturnType<typeof uncommanded>[number][],
  { source }: BehaviourInput,
): Saying {
  const [first] = stray
  const address = nameAddressee(first!.to as number)
  return {
    verdict: 'undecided',
    finding: SAYS.find('uncommanded', { source, address, atUs: first!.packet.timeUs, count: stray.length }),
    low: 0,
    high: 0,
    max: undefined,
    count: { seen: stray.length, outside: stray.length },
    where: { timeUs: first!.packet.timeUs, address, packet: formatBytes(first!.packet.bytes) },
  }
}

interface WatchedMatter {
  name: string
  timeoutUs: number | undefined
  watchedUs: number
  untilUs: number
}

function refresh(followed: readonly FollowedCommand[], input: BehaviourInput): Saying[] {
  const { source, locomotives } = input
  const timeouts = new Map(locomotives.map((l) => [l.address, l.design.timeout]))
  const names = new Map(locomotives.map((l) => [l.address, l.name]))
  const nameOf = ({ state }: FollowedCommand) => {
    const name = names.get(state.address) ?? `locomotive ${state.address}`
    return state.matter === 'speed' ? `the speed of ${name}` : `F${state.matter} of ${name}`
  }
  const watched = followed.flatMap((f) => {
    if (f.superseded || f.heardUs === undefined) return []
    return [{ f, timeoutUs: timeouts.get(f.state.address), watchedUs: f.untilUs - f.heardUs }]
  })
  if (watched.length === 0) return []
  // A decoder whose time-out is off (0) waits for ever.
  const timed = watched.filter((w) => w.timeoutUs !== undefined && w.timeoutUs > 0)
  const outside = timed.filter((w) => w.f.longestPauseUs > w.timeoutUs!)
  const share = (w: (typeof timed)[number]) => w.f.longestPauseUs / w.timeoutUs!
  const worst = timed.length > 0 ? timed.reduce((a, b) => (share(b) > share(a) ? b : a)) : undefined
  const longest = watched.reduce((a, b) => (b.f.longestPauseUs > a.f.longestPauseUs ? b : a))
  const low = Math.min(...watched.map((w) => w.f.longestPauseUs))
  const common = { low, count: { seen: watched.length, outside: outside.length } }
  if (outside.length > 0)
    return [
      {
        ...common,
        verdict: 'broken',
        finding: SAYS.find('state-not-refreshed', {
          source,
          states: watched.length,
          outside: outside.length,
          worst: nameOf(worst!.f),
          worstUs: worst!.f.longestPauseUs,
          timeoutUs: worst!.timeoutUs!,
        }),
        high: worst!.f.longestPauseUs,
        max: worst!.timeoutUs!,
        where: { timeUs: worst!.f.pauseAtUs, address: String(worst!.f.state.address) },
      },
    ]
  // Each matter of each locomotive must have been watched for its time-out, whatever states it went through.
  const matters = new Map<string, WatchedMatter>()
  for (const { f, timeoutUs, watchedUs } of watched) {
    const key = nameOf(f)
    const before = matters.get(key)?.watchedUs ?? 0
    matters.set(key, { name: key, timeoutUs, watchedUs: before + watchedUs, untilUs: f.untilUs })
  }
  // A locomotive that was forgotten is not in use any more.
  const inUse = [...matters.values()].filter((m) => m.untilUs >= input.ranUs)
  const untimed = inUse.filter((m) => m.timeoutUs === undefined)
  const short = inUse.filter((m) => m.timeoutUs !== undefined && m.watchedUs < m.timeoutUs)
  if (worst === undefined || untimed.length > 0 || short.length > 0)
    return [
      {
        ...common,
        verdict: 'undecided',
        finding: SAYS.find('refresh-undecided', {
          source,
          untimed: untimed.length,
          short: short.length,
          first: (short[0] ?? untimed[0])?.name ?? '',
          longestUs: longest.f.longestPauseUs,
        }),
        high: longest.f.longestPauseUs,
        max: undefined,
        where: { timeUs: longest.f.pauseAtUs, address: String(longest.f.state.address) },
      },
    ]
  return [
    {
      ...common,
      verdict: 'met',
      finding: SAYS.find('state-refreshed', {
        source,
        states: watched.length,
        worst: nameOf(worst.f),
        worstUs: worst.f.longestPauseUs,
        timeoutUs: worst.timeoutUs!,
      }),
      high: worst.f.longestPauseUs,
      max: worst.timeoutUs!,
      where: { timeUs: worst.f.pauseAtUs, address: String(worst.f.state.address) },
    },
  ]
}

/** Service-mode commands: each must become packets on the service track. */
function judgeService(output: BehaviourOutput, input: BehaviourInput): Statement[] {
  const { commands, source, ranUs } = input
  const asked = (commands ?? []).filter((c) => c.kind === 'write' || c.kind === 'verify' || c.kind === 'read')
  // What the run's end cuts off may still come.
  const due = asked.filter((c) => sentFor(c, output) || c.timeUs + SERVICE_WAIT_US <= ranUs)
  if (due.length === 0) return []
  const missing = due.filter((c) => !sentFor(c, output))
  const counts = { source, missing: missing.length, commands: due.length }
  const finding =
    missing.length > 0
      ? SAYS.find('service-command-missing', { ...counts, first: missing[0]!.text })
      : SAYS.find('service-command-seen', { source, commands: due.length })
  return [
    {
      clause: 'service-sequence',
      origin: 'simulated',
      about: output.name,
      verdict: missing.length > 0 ? 'broken' : 'met',
      value: { low: 0, high: missing.length, unit: input.profile.clauses['service-sequence'].unit },
      margin: missing.length > 0 ? -1 : 1,
      count: { seen: due.length, outside: missing.length },
      where: {
        ...(input.file === undefined ? {} : { file: input.file }),
        ...(missing[0] ? { timeUs: missing[0].timeUs } : {}),
      },
      because: finding.sentence,
      finding,
    },
  ]
}

/** Whether a packet of the operation begins within the time allowed: direct, or a register that holds the CV. */
function sentFor(command: Command, { packets }: BehaviourOutput): boolean {
  if (command.kind !== 'write' && command.kind !== 'verify' && command.kind !== 'read') return false
  const op = command.kind === 'read' ? 'verify' : command.kind
  // A read asks for one value after the other.
  const isValue = (value: number) => command.kind === 'read' || value === command.value
  return packets.some(({ valid, timeUs, bytes }) => {
    if (!valid || timeUs < command.timeUs || timeUs > command.timeUs + SERVICE_WAIT_US) return false
    const { packet } = decodePacket(bytes, { mode: 'service' })
    if (packet?.kind === 'service-direct') {
      const { access } = packet
      // A byte may be verified bit by bit.
      if (access.op === 'verify-bit' || access.op === 'write-bit')
        return access.cv === command.cv && access.op.startsWith(op)
      return access.cv === command.cv && access.op === op && isValue(access.value)
    }
    return packet?.kind === 'service-register' && packet.op === op && isValue(packet.value)
  })
}
