/** The commands, with what the overview needs; each module is loaded only when it is called. */
import type { Command } from './command.js'

export interface CommandEntry {
  /** The command with what it takes, as the overview shows it. */
  call: string
  summary: string
  load: () => Promise<{ command: Command }>
}

export const COMMANDS: Readonly<Record<string, CommandEntry>> = {
  new: {
    call: 'new [DIR]',
    summary: 'writes a commented design file, or copies an example',
    load: () => import('./commands/new.js'),
  },
  check: {
    call: 'check DESIGN',
    summary: 'validates the design file',
    load: () => import('./commands/check.js'),
  },
  prove: {
    call: 'prove DESIGN',
    summary: 'the proof: what calculation, firmware and captures show, clause by clause',
    load: () => import('./commands/prove.js'),
  },
  matrix: {
    call: 'matrix DESIGN',
    summary: 'the proofs of all variants of a design, side by side',
    load: () => import('./commands/matrix.js'),
  },
  timers: {
    call: 'timers DESIGN',
    summary: 'searches timer settings, ranks them, prints registers, writes a C header',
    load: () => import('./commands/timers.js'),
  },
  wave: {
    call: 'wave PACKET…',
    summary: 'turns packets into a signal: VCD, CSV or a drawing',
    load: () => import('./commands/wave.js'),
  },
  capture: {
    call: 'capture FILE',
    summary: 'reads a capture of the track signal and judges it',
    load: () => import('./commands/capture.js'),
  },
  simulate: {
    call: 'simulate FIRMWARE --design DESIGN',
    summary: 'runs firmware on a simulated controller and judges its signal',
    load: () => import('./commands/simulate.js'),
  },
  track: {
    call: 'track DESIGN',
    summary: 'voltage, shorts, polarity and ringing of the railroad',
    load: () => import('./commands/track.js'),
  },
  power: {
    call: 'power DESIGN',
    summary: 'the power stage: voltage, heat, budget, shorts, inrush, acknowledgement, pins',
    load: () => import('./commands/power.js'),
  },
  bench: {
    call: 'bench DESIGN [SCENARIO…]',
    summary: 'firmware, drivers, track and decoders in one run: shorts, restarts, CVs',
    load: () => import('./commands/bench.js'),
  },
  book: {
    call: 'book DESIGN',
    summary: 'the build book: parts, wiring, settings, and the steps to the first train',
    load: () => import('./commands/book.js'),
  },
  starter: {
    call: 'starter DESIGN DIR',
    summary: 'writes a complete, small firmware for the design',
    load: () => import('./commands/starter.js'),
  },
  find: {
    call: 'find DESIGN',
    summary: 'from readings and symptoms to the fault, and the next reading',
    load: () => import('./commands/find.js'),
  },
  open: {
    call: 'open [DESIGN]',
    summary: 'the workbench in the browser',
    load: () => import('./commands/open.js'),
  },
  packet: {
    call: 'packet explain HEX… | make KIND …',
    summary: 'explains the bytes of a packet, makes packets from words',
    load: () => import('./commands/packet.js'),
  },
  standard: {
    call: 'standard [PROFILE]',
    summary: 'the limits of a profile and edition, with their sources',
    load: () => import('./commands/standard.js'),
  },
  explain: {
    call: 'explain NAME',
    summary: 'a clause or a finding: what it means, why it matters, what helps',
    load: () => import('./commands/explain.js'),
  },
  completion: {
    call: 'completion SHELL',
    summary: 'completion for bash, zsh or fish',
    load: () => import('./commands/completion.js'),
  },
  traffic: {
    call: 'traffic DESIGN',
    summary: 'refresh, latency, how many locomotives, and where trains stop',
    load: () => import('./commands/traffic.js'),
  },
}
