/** What the search for timer settings and its evidence have to say. Times in us, frequencies in Hz, shares of 1. */
import { findingTable } from '../../finding/index.js'
import { formatNumber, formatRange, formatShare, formatTimeUs } from '../../units/index.js'

interface Source {
  timer: string
  clock: string
  divider: number
}
const by = (s: Source) => `${s.timer}, ${s.clock} divided by ${s.divider}`

/** Of one half-bit: as loaded, and from the shortest to the longest that the clock makes of it. */
interface HalfLength {
  ticks: number
  tickUs: number
  us: number
  lowUs: number
  highUs: number
}

export const TIMER_FINDINGS = findingTable('timers', {
  // Evidence
  half: {
    means: 'Length of a half-bit, from the counts of the timer and the tolerance of the clock.',
    says: (p: Source & HalfLength & { tolerance: string; open?: string }) =>
      `${p.ticks} ticks of ${formatTimeUs(p.tickUs)} are ${formatTimeUs(p.us, 6)} (${by(p)}), with the clock's tolerance (${p.tolerance})${p.open === undefined ? '' : `; the design leaves the ${p.open} open, so the best one that fits is used`}`,
  },
  'half-by-interrupt': {
    means:
      'Length of a half-bit that an interrupt ends; only a run of the firmware shows how late the interrupt is.',
    remedy: 'Run the firmware, or let a timer drive the pin.',
    says: (
      p: Source & {
        ticks: number
        tickUs: number
        us: number
        tolerance: string
        lateUs: number
        open?: string
      },
    ) =>
      `${p.ticks} ticks of ${formatTimeUs(p.tickUs)} are ${formatTimeUs(p.us, 6)} (${by(p)}), with the clock's tolerance (${p.tolerance})${p.open === undefined ? '' : `; the design leaves the ${p.open} open, so the best one that fits is used`}; the interrupt writes the pin, so only a run of the firmware shows its edges, which may be at most ${formatTimeUs(p.lateUs, 3)} late`,
  },
  'same-halves': {
    means: 'The hardware uses the same count for both halves of a one.',
    says: (p: { ticks: number }) => `the hardware uses the same ${p.ticks} ticks for both halves of a one`,
  },
  'halves-by-interrupt': {
    means: 'Both halves of a one have the same count, but an interrupt ends them.',
    remedy: 'Run the firmware, or let a timer drive the pin.',
    says: (p: { lateUs: number }) =>
      `both halves of a one have the same count; the interrupt writes the pin, so only a run of the firmware shows its edges, which may be at most ${formatTimeUs(p.lateUs, 3)} late`,
  },
  'zero-total': {
    means: 'Length of a whole zero: twice its half, with the tolerance of the clock.',
    says: (p: { us: number; share: number }) =>
      `twice a half of ${formatTimeUs(p.us, 6)}, with ${formatShare(p.share)} of clock tolerance`,
  },
  'not-within-rating': {
    means: 'The figures hold only if the controller can work like this, which its ratings do not promise.',
    remedy: 'Choose another clock or another configuration.',
    says: (p: { figures: string; why: string }) => `${p.figures}; but ${p.why}`,
  },
  preamble: {
    means: 'How many ones the design sends before a packet, and how many the mode needs.',
    says: (p: { ones: number; mode: string; min: number; cutout: boolean }) =>
      `the design sends ${p.ones} ones; ${p.mode} mode${p.cutout ? ' with the bidirectional cut-out' : ''} needs at least ${formatNumber(p.min)}`,
  },
  // Pins
  'pins-free': {
    means: 'Every output pin is used once, by a timer or code that can drive it.',
    says: (p: { pins: readonly string[]; chip: string; notes: readonly string[] }) =>
      `every output pin that the design names (${p.pins.join(', ')}) is used once, and can be driven by a timer or code on the ${p.chip}${p.notes.length > 0 ? `; note: ${p.notes.join('; ')}` : ''}`,
  },
  'pins-in-conflict': {
    means: 'Output pins or timers conflict, or cannot be used as the design requires.',
    remedy: 'Choose other pins or timers.',
    says: (p: { problems: readonly string[]; codes: readonly string[] }) => p.problems.join('; '),
  },
  'pins-in-doubt': {
    means: 'Whether the pins can be used depends on what the design does not say.',
    remedy:
      'Check each pin against the circuit and the data sheet, and list it under controller.checkedPins.',
    says: (p: { doubts: readonly string[]; codes: readonly string[] }) => p.doubts.join('; '),
  },
  'pin-used-twice': {
    means: 'One pin serves two purposes.',
    says: (p: { pin: string; users: readonly string[] }) =>
      `pin ${p.pin} is used twice (${p.users.join('; ')})`,
  },
  'timer-used-twice': {
    means: 'One timer makes two signals.',
    says: (p: { timer: number; users: readonly string[] }) =>
      `timer ${p.timer} is used twice (${p.users.join('; ')})`,
  },
  'timer-taken': {
    means: 'A timer that the design reserves for other code drives an output.',
    says: (p: { timer: string; output: string }) => `${p.timer} is reserved and drives output ${p.output}`,
  },
  'pin-not-driven': {
    means: 'No timer of the controller can drive the pin as the design requires.',
    remedy: 'Choose another pin, another timer or another method.',
    says: (p: { pins: readonly string[]; timer?: number; chip: string; method?: string; output: string }) =>
      `${p.pins.join(' with ')} cannot be driven by ${p.timer === undefined ? `any timer of ${p.chip}` : `timer ${p.timer}`}${p.method === undefined ? '' : ` for method ${p.method}`} of output ${p.output}`,
  },
  'pin-not-listed': {
    means: 'The table of pins that the timers drive is not complete, and this pin is not in it.',
    remedy: 'Look the pin up in the data sheet, and list it under controller.checkedPins.',
    says: (p: { pins: readonly string[]; timer?: number; chip: string; method?: string; output: string }) =>
      `${p.pins.join(' with ')} cannot be driven by ${p.timer === undefined ? `any timer of ${p.chip}` : `timer ${p.timer}`}${p.method === undefined ? '' : ` for method ${p.method}`} of output ${p.output}, as far as the table of ${p.chip}'s pins goes, which is not complete`,
  },
  // Refusals
  'timer-reserved': {
    means: 'The design reserves the timer for other code.',
    says: (p: { timer: string }) => `${p.timer} is reserved in the design`,
  },
  'pin-reserved': {
    means: 'The design reserves the pin for other code.',
    says: (p: { pin: string }) => `pin ${p.pin} is reserved in the design`,
  },
  'too-few-bits': {
    means: 'The counter is too short for the half-bits at this divider.',
    says: (p: { tickUs: number; bits: number; reachUs: number }) =>
      `at ${formatTimeUs(p.tickUs)} per tick ${p.bits} bits reach only ${formatTimeUs(p.reachUs)} per half-bit`,
  },
  'one-outside': {
    means: 'Half of a one falls outside its limits.',
    says: (p: { lowUs: number; highUs: number; tickUs: number; share: number; min: number; max: number }) =>
      `half of a one comes to ${formatRange(p.lowUs, p.highUs, 'us', 4)} with ticks of ${formatTimeUs(p.tickUs)} and ${formatShare(p.share)} of clock tolerance, outside ${p.min} to ${p.max} us`,
  },
  'zero-outside': {
    means: 'Half of a zero falls outside its limits.',
    says: (p: { lowUs: number; highUs: number; min: number; max: number }) =>
      `half of a zero comes to ${formatRange(p.lowUs, p.highUs, 'us', 4)}, outside ${p.min} to ${p.max} us`,
  },
  'no-time-for-interrupt': {
    means: 'The assumed entry and run time of the interrupt are longer than the deadline allows.',
    remedy: 'Choose a faster clock, or a configuration that needs fewer interrupts.',
    says: (p: { usedUs: number; writeUs: number }) =>
      `the interrupt takes ${formatTimeUs(p.usedUs)} (assumed), longer than the deadline of ${formatTimeUs(p.writeUs)} allows`,
  },
  'clock-too-fast': {
    means: 'The clock is faster than the controller is rated for.',
    remedy: 'Choose a clock within the rating.',
    says: (p: { chip: string; maxHz: number; hz: number }) =>
      `${p.chip} is rated for ${p.maxHz / 1e6} MHz at most, the design says ${formatNumber(p.hz / 1e6)} MHz`,
  },
  // What a way is worth
  worth: {
    means: 'Headroom to the limits, allowed lateness of the interrupt, and what a miss does.',
    says: (p: { headroom: number; lateUs: number; miss: string }) =>
      `${formatShare(p.headroom, 2)} of the room to the nearest limit is left after the clock's tolerance; its interrupt may be ${formatTimeUs(p.lateUs, 3)} late, and then ${p.miss}`,
  },
  refused: {
    means: 'The configuration exists but cannot be used.',
    says: (p: { reasons: readonly string[] }) => `Refused: ${p.reasons.join('; ')}`,
  },
  // Misses
  'miss-half-now': {
    means: 'A late write of an unbuffered half lets the counter run to full scale.',
    says: (p: { pulseUs: number; oneUs: number; zeroUs: number }) =>
      `one pulse of a whole counter period, ${formatTimeUs(p.pulseUs)}; before a zero, a half of ${formatTimeUs(p.oneUs)} in place of ${formatTimeUs(p.zeroUs)}`,
  },
  'miss-bit-now': {
    means: 'A late write of an unbuffered bit period lets the counter run to full scale.',
    says: (p: { pulseUs: number }) =>
      `one half of nearly a whole counter period, ${formatTimeUs(p.pulseUs)}; before a zero, a one in its place`,
  },
  'miss-half-next': {
    means: 'A late write of a buffered half repeats the old one.',
    says: () => 'the old half-bit repeats: two halves that do not match, one packet lost',
  },
  'miss-bit-next': {
    means: 'A late write of a buffered bit repeats the old one.',
    says: () =>
      'the old bit repeats: one wrong bit, caught by the error byte, and one packet lost; for a few cycles between the two writes, one half of a bit can get the length of another bit',
  },
  'miss-queue': {
    means: 'An empty queue holds the last level.',
    says: () => 'the program waits and the last level stays: one long half-bit',
  },
  'miss-list': {
    means: 'A list that is not refilled is played again.',
    says: () => 'old bits are played again: a damaged packet',
  },
  'miss-pin': {
    means: 'A late interrupt moves the edge by its lateness.',
    says: () => 'the half-bit is longer by the lateness and the next one shorter by as much',
  },
})
