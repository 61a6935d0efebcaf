/** What the signal room has to say, as codes with parameters; the sentences are made here and nowhere else. */
import { findingTable } from '../finding/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'

/** What would decide an undecided duration. */
export interface Decider {
  /** The spacing of the samples and the rounding of the times, us. */
  resolutionUs?: number | undefined
  roundingUs?: number | undefined
  /** Uncertainty that would decide, us; `needsAtLeast`: perhaps less is needed. */
  neededUs?: number | undefined
  needsAtLeast?: boolean | undefined
}

/** What every statement may add to what was found. */
interface Common extends Decider {
  source: string
  /** For the broken: what the station must keep, and whether decoders should read it all the same. */
  asked?: string | undefined
  accepts?: string | undefined
  decodersRead?: boolean | undefined
  /** Only known from memory, so that nobody is held to it. */
  unbound?: string | undefined
}

interface Shift {
  shiftUs?: number | undefined
  corrected?: string | undefined
  swapLeads?: boolean | undefined
}

export const SIGNAL_FINDINGS = findingTable('signal', {
  'half-bits': {
    means: 'How long the halves of one kind of bit last.',
    says: (
      p: Common &
        Shift & {
          count: number
          lowUs: number
          highUs: number
          meanUs: number
          runHalves?: number | undefined
          runUs?: number | undefined
          offShare?: number | undefined
          cause?: 'clock' | 'timer' | 'late' | undefined
          outside: number
        },
    ) =>
      sentence(p, [
        `${p.count} halves last ${range(p.lowUs, p.highUs)} us, mean ${print(p.meanUs)} us`,
        ...shiftWords(p),
        ...(p.runUs === undefined
          ? []
          : [
              `the ones of a preamble together (${p.runHalves} halves in all preambles) show halves of ${print(p.runUs)} us or beyond`,
            ]),
        ...causeWords(p),
      ]),
  },
  'one-difference': {
    means: 'How much the two halves of a one differ.',
    says: (p: Common & Shift & { highUs: number }) =>
      sentence(p, [`the halves of a one differ by up to ${print(p.highUs)} us`, ...shiftWords(p)]),
  },
  'zero-total': {
    means: 'How long whole zeros last.',
    says: (p: Common & { lowUs: number; highUs: number; stretched: number }) =>
      sentence(p, [`whole zeros last ${range(p.lowUs, p.highUs)} us, ${p.stretched} of them stretched`]),
  },
  glitches: {
    means: 'How many intervals are too short to be half of any bit.',
    says: (p: Common & { count: number; shortestUs: number }) =>
      sentence(p, [
        p.count === 0
          ? 'no interval is too short for half a bit'
          : `${p.count} intervals are too short for half a bit, the shortest ${print(p.shortestUs)} us`,
      ]),
  },
  framing: {
    means: 'How many packets are cut short or malformed.',
    says: (p: Common & { count: number; whole: number; spoiled: number; doubtful: number }) =>
      sentence(p, [
        p.count === 0
          ? `all ${p.whole} packets are well formed`
          : `${p.count} packets are cut short or malformed, ${p.whole} are well formed`,
        ...(p.doubtful > 0
          ? [`${p.doubtful} are cut short where power may have been switched off on purpose`]
          : []),
        ...spoiledWords(p.spoiled),
      ]),
  },
  'packet-length': {
    means: 'How many bytes packets have.',
    says: (
      p: Common & {
        low: number
        high: number
        wrong: number
        longer: number
        fromMemory: boolean
        spoiled: number
      },
    ) =>
      sentence(p, [
        `packets have ${range(p.low, p.high)} bytes`,
        ...(p.wrong > 0 ? [`${p.wrong} have too few or too many`] : []),
        ...(p.longer > 0
          ? [`${p.longer} are longer than usual${p.fromMemory ? ', in forms known from memory only' : ''}`]
          : []),
        ...spoiledWords(p.spoiled),
      ]),
  },
  'error-byte': {
    means: 'How many packets have a wrong error byte.',
    says: (p: Common & { wrong: number; whole: number; spoiled: number }) =>
      sentence(p, [
        p.wrong === 0
          ? `all ${p.whole} complete packets have the right error byte`
          : `${p.wrong} of ${p.whole} complete packets have a wrong error byte`,
        ...spoiledWords(p.spoiled),
      ]),
  },
  instruction: {
    means: 'How many valid packets carry bytes that no standard defines.',
    says: (p: Common & { undefined: number; valid: number; fromMemory: number; spoiled: number }) =>
      sentence(p, [
        `${p.undefined === 0 ? 'none' : p.undefined} of ${p.valid} valid packets carry undefined or reserved bytes`,
        ...(p.fromMemory > 0
          ? [
              `${p.fromMemory} are of kinds known from memory only: compare them with the current edition of the standard`,
            ]
          : []),
        ...spoiledWords(p.spoiled),
      ]),
  },
  preamble: {
    means: 'How many ones precede packets.',
    says: (
      p: Common & {
        low: number
        high: number
        cutout: boolean
        endBit: boolean
        visible?: number | undefined
        unseen: boolean
      },
    ) =>
      sentence(p, [
        `${range(p.low, p.high)} ones precede each packet${p.cutout ? ', counting those that the cut-out hides' : p.endBit ? ', counting the end bit before them' : ''}`,
        ...(p.visible === undefined
          ? []
          : [
              p.unseen
                ? `a cut-out, which this record does not show, would leave about ${p.visible} of them complete`
                : `after a cut-out at least ${p.visible} complete ones are left`,
            ]),
      ]),
  },
  'no-preamble': {
    means: 'No packet could be read, and no run of ones is long enough to be a preamble.',
    says: (p: Common & { longest: number }) =>
      sentence(p, [`no packet could be read: the longest run of ones is ${p.longest}`]),
  },
  'packet-interval': {
    means: 'How long it takes from start bit to start bit.',
    says: (p: Common & { lowUs: number; highUs: number; valid: number; doubtful: number }) =>
      sentence(p, [
        p.valid === 0
          ? `no complete packet in ${formatTimeUs(p.highUs)}`
          : `start bits are ${times(p.lowUs, p.highUs)} apart`,
        ...(p.doubtful > 0
          ? [
              `in ${p.doubtful} of the long ones power was missing; if it was switched off on purpose, give the shortest time that counts as switched off (a power-off time)`,
            ]
          : []),
      ]),
  },
  'same-address-gap': {
    means: 'How soon after a packet another one for the same address comes.',
    says: (p: Common & { lowUs: number; address: string }) =>
      sentence(p, [`packets to ${p.address} are at least ${formatTimeUs(p.lowUs)} apart`]),
  },
  'service-sequence': {
    means: 'Whether service-mode operations have all the packets they need.',
    says: (
      p: Common & { operations: number; broken: number; undecided: number; first?: string | undefined },
    ) =>
      sentence(p, [
        `${p.broken === 0 ? 'none' : p.broken} of ${p.operations} service-mode operations have packets missing or out of order`,
        ...(p.undecided > 0 ? [`${p.undecided} cannot be decided`] : []),
        ...(p.first === undefined ? [] : [p.first]),
      ]),
  },
  cutout: {
    means: 'When cut-outs start or end.',
    says: (
      p: Common & {
        end: boolean
        count: number
        lowUs: number
        highUs: number
        late: number
        without: number
      },
    ) =>
      sentence(p, [
        `${p.count} cut-outs ${p.end ? 'end' : 'start'} ${range(p.lowUs, p.highUs)} us after the end bit`,
        ...(p.late > 0 ? [`${p.late} of them much too late`] : []),
        ...(p.without > 0 ? [`${p.without} packets are followed by none`] : []),
      ]),
  },
  'cutout-held': {
    means: 'The rails differ where a cut-out was due, which joins them.',
    remedy:
      'Check what joins the rails in the cut-out: both outputs of the driver must be at the same level.',
    says: (p: Common & { held: number; chances: number }) =>
      sentence(p, [
        `in ${p.held} of ${p.chances} cut-outs the rails are not joined: one level is held from the packet to the end of the cut-out`,
      ]),
  },
  'cutout-missing': {
    means: 'Cut-outs were declared, but the record shows none.',
    remedy: 'Check what makes the cut-out, or declare that there is none.',
    says: (p: Common & { chances: number }) =>
      sentence(p, [`a cut-out was declared, but none of ${p.chances} packets is followed by one`]),
  },
  interruption: {
    means: 'Where track power or the signal is missing.',
    remedy:
      'For a capture, give the shortest break that was a switch-off on purpose; otherwise look for what interrupts the power.',
    says: (
      p: Common & {
        wrong: number
        unknown: number
        allowed: number
        longestUs: number
        gaps: number
        gapUs: number
        logic: boolean
      },
    ) =>
      sentence(p, [
        ...(p.wrong > 0
          ? [
              `${p.wrong} ${p.wrong === 1 ? 'time' : 'times'} the signal or its voltage is missing where it may not be, the longest break ${formatTimeUs(p.longestUs)}`,
            ]
          : []),
        ...(p.unknown > 0
          ? [
              `${p.unknown} ${p.unknown === 1 ? 'break' : 'breaks'} of up to ${formatTimeUs(p.longestUs)} may be a trip, a switch-off or a power cycle, or a fault: nothing shows which`,
            ]
          : []),
        ...(p.allowed > 0
          ? [
              `${p.allowed} ${p.allowed === 1 ? 'break is' : 'breaks are'} allowed by the standard or known to be on purpose`,
            ]
          : []),
        ...(p.wrong + p.unknown + p.allowed === 0
          ? [
              p.logic
                ? 'the signal never stops; what the driver does is not part of it'
                : 'the signal never stops, and its voltage is never missing',
            ]
          : []),
        ...(p.gaps > 0
          ? [
              `the record itself has ${p.gaps} ${p.gaps === 1 ? 'gap' : 'gaps'}, ${formatTimeUs(p.gapUs)} in all, in which the signal is unknown`,
            ]
          : []),
      ]),
  },
  'start-up': {
    means: 'What comes first after track power is applied.',
    says: (
      p: Common & {
        resets: number
        idles: number
        wantedResets: number
        wantedIdles: number
        cut: boolean
        spoiled: boolean
      },
    ) =>
      sentence(p, [
        `the first packets are ${p.resets} resets and ${p.idles} idles; there should be ${p.wantedResets} and ${p.wantedIdles}`,
        ...(p.cut ? ['the record ends before more could follow'] : []),
        ...(p.spoiled ? ['a packet among them could not be read'] : []),
      ]),
  },
  'reset-guard': {
    means: 'How soon after a reset comes a packet whose first byte is not allowed then.',
    says: (
      p: Common & {
        resets: number
        seen: number
        lowUs: number
        first: number
        last: number
        limitUs: number
      },
    ) =>
      sentence(p, [
        p.seen === 0
          ? `after ${p.resets} resets no packet has a first byte of ${p.first} to ${p.last}`
          : `after ${p.resets} resets the first packet with a first byte of ${p.first} to ${p.last} comes ${formatTimeUs(p.lowUs)} later at the earliest`,
      ]),
  },
  'service-current': {
    means: 'For how long the current on a service track is above its limit.',
    says: (p: Common & { longestUs: number; limitAmp: number; peakAmp: number }) =>
      sentence(p, [
        p.longestUs === 0
          ? `the current stays below ${print(p.limitAmp)} A, its peak is ${print(p.peakAmp)} A`
          : `the current is above ${print(p.limitAmp)} A for up to ${formatTimeUs(p.longestUs)}, its peak is ${print(p.peakAmp)} A`,
      ]),
  },
  'no-edges': {
    means: 'The signal never changes level, so nothing else can be judged.',
    says: (p: { source: string }) => `${p.source}: the signal never changes level`,
  },
  'no-packet': {
    means: 'No complete packet could be read, so nothing that packets would show is known.',
    says: (p: { source: string; spoiled: number }) =>
      `${p.source}: ${p.spoiled > 0 ? `no complete packet was read, ${p.spoiled} were spoiled by faults listed elsewhere` : 'no packet was read'}`,
  },
  'too-coarse': {
    means: 'The times are so coarse that ones and zeros cannot be told apart.',
    remedy: 'Sample faster, or export the times with more digits.',
    says: (p: { source: string; resolutionUs: number; neededUs: number }) =>
      `${p.source}: with edges known only to ${formatTimeUs(p.resolutionUs)}, a one may look like a zero; ${formatTimeUs(p.neededUs)} or finer would be enough`,
  },
  'nothing-of-it': {
    means: 'The record contains nothing that the clause is about.',
    says: (p: { source: string; what: string }) => `${p.source}: ${p.what}`,
  },
  'one-level': {
    means: 'A single level does not show whether the rails carry voltage.',
    remedy: 'Record both rails, or the voltage between them.',
    says: (p: { source: string }) =>
      `${p.source}: one level alone does not show whether the rails carry voltage; record both rails`,
  },
  'record-gap': {
    means: 'The record has a gap; this is not a fault of the station.',
    says: (p: { count: number; longestUs: number; atUs: number }) =>
      `the record has ${p.count} ${p.count === 1 ? 'gap' : 'gaps'} of up to ${formatTimeUs(p.longestUs)}, the first at ${formatTimeUs(p.atUs)}: the signal there is unknown`,
  },
  'cutout-undeclared': {
    means: 'Cut-outs were seen though none was declared; the preamble must be longer with them.',
    says: (p: { count: number }) =>
      `${p.count} cut-outs seen, though none was declared; preambles are judged with them`,
  },
  'cutout-sometimes': {
    means: 'Some packets are not followed by a cut-out.',
    says: (p: { seen: number; chances: number }) =>
      `${p.chances - p.seen} of ${p.chances} packets are not followed by a cut-out`,
  },
  'cv-sent-once': {
    means:
      'A CV access on the main track takes two identical packets with no other packet to that decoder in between.',
    remedy: 'Send each CV access on the main track twice.',
    says: (p: { count: number; atUs: number }) =>
      `${p.count} ${p.count === 1 ? 'CV access' : 'CV accesses'} on the main track sent once, the first at ${formatTimeUs(p.atUs)}: decoders act on the second (S-9.2.1:2012 C)`,
  },
  'functions-sent-once': {
    means: 'A station that does not refresh F13 to F28 must send each change of them at least twice.',
    remedy: 'Send each change of F13 to F28 twice, or refresh them.',
    says: (p: { count: number; atUs: number }) =>
      `${p.count} ${p.count === 1 ? 'change' : 'changes'} of F13 to F28 sent once, the first at ${formatTimeUs(p.atUs)} (S-9.2.1:2012 C)`,
  },
  'repeats-close': {
    means:
      'Packets to one address are closer together than decoders are required to follow; the standard does not forbid a station to send them so.',
    says: (p: { count: number; lowUs: number }) =>
      `${p.count} packets come less than 5 ms after one to the same address, the closest after ${formatTimeUs(p.lowUs)}: a decoder may miss the second (S-9.2:2004 C)`,
  },
})

function sentence(p: Common, parts: readonly string[]): string {
  const { source, asked, accepts, decodersRead, unbound } = p
  const more = [
    ...decideWords(p),
    ...(asked === undefined ? [] : [`the station must keep ${asked}`]),
    ...(accepts === undefined
      ? []
      : [
          decodersRead
            ? `decoders should still read it, as they must accept ${accepts}`
            : `decoders need not read it, as they must accept only ${accepts}`,
        ]),
    ...(unbound === undefined
      ? []
      : [`the limit is known only from memory (${unbound}), so this stays undecided`]),
  ]
  return `${source}: ${[...parts, ...more].join('; ')}`
}

function decideWords({ resolutionUs = 0, roundingUs = 0, neededUs, needsAtLeast }: Decider): string[] {
  if (neededUs === undefined) return []
  const closer = needsAtLeast ? 'at least ' : ''
  if (2 * roundingUs > resolutionUs) {
    return [
      `with times written to ${formatTimeUs(2 * roundingUs, 3)} it cannot be distinguished from the limit; times written to ${formatTimeUs(neededUs / 2, 2)} would decide`,
    ]
  }
  return [
    `sampled every ${formatTimeUs(resolutionUs)} it cannot be distinguished from the limit; ${closer}${formatSi(1e6 / neededUs, 'Hz', 3)} would decide it`,
  ]
}

function shiftWords({ shiftUs, corrected, swapLeads }: Shift): string[] {
  if (shiftUs === undefined) return []
  const size = print(Math.abs(shiftUs))
  const which = shiftUs > 0 ? 'longer' : 'shorter'
  return [
    `the high halves of ones and zeros alike are ${size} us ${which} than their share, because of the probe or the driver`,
    `without that, ${corrected}`,
    ...(swapLeads
      ? [`swap the leads of the probe: if the high halves still are ${which}, it is the probe`]
      : []),
  ]
}

function causeWords({
  cause,
  offShare,
  outside,
  count,
}: {
  cause?: 'clock' | 'timer' | 'late' | undefined
  offShare?: number | undefined
  outside: number
  count: number
}): string[] {
  if (cause === undefined) return []
  if (cause === 'late')
    return [`only ${outside} of ${count}: late interrupts or a compare value written too late, not the clock`]
  const all = 'an error this uniform points to a timer value or the clock, not to late interrupts'
  if (cause === 'timer' || offShare === undefined) return [all]
  const off = `${formatNumber(Math.abs(offShare) * 100, 2)} % ${offShare > 0 ? 'above' : 'below'}`
  return [`the mean is ${off} nominal: ${all}`]
}

function spoiledWords(spoiled: number): string[] {
  return spoiled > 0
    ? [`${spoiled} more were spoiled by faults listed elsewhere and are not counted here`]
    : []
}

function print(value: number): string {
  return formatNumber(value, 5)
}

export function range(low: number, high: number): string {
  const a = print(low)
  const b = print(high)
  return a === b ? a : `${a} to ${b}`
}

function times(low: number, high: number): string {
  const a = formatTimeUs(low)
  const b = formatTimeUs(high)
  return a === b ? a : `${a} to ${b}`
}
