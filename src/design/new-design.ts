/** The text of a new design: sound, commented, and small enough to be read whole. */

export interface NewDesign {
  name: string
  profile: string
  scale: string
  chip: string
  clock: string
  source: string
  pin: string
  /** The best that fits where it is left out. */
  method?: string
  timer?: number
  prescaler?: number
}

/** The commented design file of a station with one output. Every value in it can be checked by `halfbit check`. */
export function designText(d: NewDesign): string {
  return `# A design file: one command station and its railroad. Quantities carry their unit: 58 us, 16 MHz, 1.2 A.
# \`halfbit check halfbit.yaml\` names what is wrong, with its line; docs/design-file.md lists every key.
halfbit: 2 # version of this format
name: ${JSON.stringify(d.name)}

standard:
  profile: ${d.profile} # nmra: S-9.x; rcn: RailCommunity and NEM
scale: ${d.scale} # Z, N, TT, H0, S, 0, 1 or G: decides the voltage window

controller:
  chip: ${d.chip}
  clock:
    frequency: ${d.clock}
    source: ${d.source} # crystal, resonator, trimmed rc, rc, internal: decides the tolerance
  # reservedTimers: [0] # timers that other code relies on
  # reservedPins: [] # pins already used for something else

signal:
  outputs:
    main: # a name of your own; add more outputs below it
      mode: operations # service for a programming track
      pin: ${d.pin} # pin that carries the logic signal to the driver
      # inverted: # pin with the opposite level, if the driver wants both
${d.method === undefined ? '' : `      method: ${d.method} # \`halfbit timers halfbit.yaml\` ranks toggle, buffered, interrupt and fed\n`}${d.timer === undefined ? '' : `      timer: ${d.timer}\n`}${d.prescaler === undefined ? '' : `      prescaler: ${d.prescaler}\n`}      oneHalf: 58 us
      zeroHalf: 100 us
      preamble: 16 # 14 at least; 20 in service mode

# What \`halfbit prove halfbit.yaml\` shall run and judge; take the # away when you have the files.
# firmware:
#   file: firmware/station.elf # ELF or HEX
#   runFor: 5 s
# captures:
#   - file: captures/main.vcd # VCD, CSV or raw samples
#     output: main
#     probe: logic # at the logic pin, or at the rails
`
}

/** A station to begin with, where nobody has said anything yet: what `halfbit new` writes without options. */
export const FIRST_DESIGN: Readonly<NewDesign> = {
  name: 'My command station',
  profile: 'nmra',
  scale: 'H0',
  chip: 'atmega328p',
  clock: '16 MHz',
  source: 'crystal',
  pin: 'PB2',
  method: 'buffered',
  timer: 1,
  prescaler: 8,
}
