import type { Command } from '../command.js'
import { startReadingThread } from '../reading-thread.js'

export const command: Command = {
  usage: ['capture FILE [options]'],
  about: `Reads a capture of a track signal and judges it: VCD, CSV (digital or analog), raw samples, each plain or gzip.
What the file does not tell is said with options; what is taken for granted is noted.`,
  options: {
    channel: {
      type: 'string',
      value: 'NAME',
      multiple: true,
      help: 'channel by name or number; twice, or "A-B": subtracted',
    },
    invert: { type: 'boolean', help: 'turn the levels round' },
    rate: {
      type: 'string',
      value: 'RATE',
      help: 'sampling rate: of raw samples or sample numbers, or how finely changes were seen',
    },
    unit: { type: 'string', value: 'UNIT', help: 's, ms, us or ns, where a CSV file does not tell it' },
    format: {
      type: 'string',
      value: 'FORMAT',
      help: 'vcd, csv or raw; found from the file when absent (raw must be said)',
    },
    as: {
      type: 'string',
      value: 'KIND',
      help: 'digital or analog values of a CSV file; found from its first rows when absent',
    },
    bits: { type: 'string', value: 'N', help: 'bits of a raw sample: 1, 2, 4, 8 or 16 (1)' },
    signed: { type: 'boolean', help: 'raw samples are signed' },
    'big-endian': {
      type: 'boolean',
      help: 'raw samples of 16 bits have their high byte first; fewer bits: first sample highest',
    },
    step: { type: 'string', value: 'VOLT', help: 'volts of one count of a raw analog sample' },
    threshold: {
      type: 'string',
      value: 'VOLT',
      help: 'an analog record changes its level here; found from its plateaus when absent',
    },
    hysteresis: {
      type: 'string',
      value: 'VOLT',
      help: 'how far beyond the threshold it must go (a fifth of the swing)',
    },
    skip: { type: 'string', value: 'TIME', help: 'time left out at the start' },
    from: { type: 'string', value: 'TIME', help: 'begin at this time of the file' },
    to: { type: 'string', value: 'TIME', help: 'end at this time of the file' },
    probe: { type: 'string', value: 'WHERE', help: 'rails or logic: where the probe was (rails)' },
    mode: { type: 'string', value: 'MODE', help: 'operations or service (operations)' },
    cutout: { type: 'boolean', help: 'the station makes bidirectional cut-outs' },
    design: {
      type: 'string',
      value: 'DESIGN',
      help: 'take profile, scale and outputs from this design file',
    },
    output: { type: 'string', value: 'NAME', help: 'output of the design that the capture shows' },
    profile: { type: 'string', value: 'NAME', help: 'nmra or rcn (nmra)' },
    edition: { type: 'string', value: 'YEAR', help: 'edition of the profile' },
    scale: { type: 'string', value: 'SCALE', help: 'scale of the railroad (H0)' },
    packets: { type: 'boolean', help: 'list every packet' },
    export: { type: 'string', value: 'FILE', help: 'write the edges as .vcd or .csv' },
  },
  takes: { min: 1, max: 1, what: 'one capture file' },
  examples: [
    'halfbit capture main.vcd --channel rail_a',
    'halfbit capture scope.csv --channel CH1-CH2 --packets',
  ],
  async run(args, io) {
    const [file] = args.positionals as [string]
    // Packets are listed as they are read, which a thread cannot do. Otherwise it loads while the rest does.
    const thread = args.on('packets') ? undefined : startReadingThread(file)
    try {
      const { captureReport } = await import('../capture-report.js')
      return await captureReport(args, io, thread)
    } finally {
      thread?.close()
    }
  },
}
