import { CAPTURE_FORMAT_IDS, CAPTURE_FORMAT_NAMES, CAPTURE_FORMATS } from '../../capture/formats.data.js'
import { type Command, VARIANT_OPTION } from '../command.js'
import { startReadingThread } from '../reading-thread.js'

export const command: Command = {
  usage: ['capture FILE [options]'],
  about: `Reads a capture of a track signal and judges it: ${CAPTURE_FORMAT_NAMES}, digital or analog, each plain or gzip.
Use options for what the file does not say; assumptions are listed as notes.`,
  options: {
    variant: VARIANT_OPTION,
    channel: {
      type: 'string',
      value: 'NAME',
      multiple: true,
      help: 'channel by name or number; give two, or "A-B", to subtract them',
    },
    invert: { type: 'boolean', help: 'invert the levels' },
    rate: {
      type: 'string',
      value: 'RATE',
      help: 'sampling rate: of raw samples or sample numbers, or the rate at which changes were seen',
    },
    unit: { type: 'string', value: 'UNIT', help: 's, ms, us or ns, if the CSV file does not say' },
    format: {
      type: 'string',
      value: 'FORMAT',
      help: `${CAPTURE_FORMAT_IDS.join(', ')}; detected from the file, except ${CAPTURE_FORMAT_IDS.filter((id) => CAPTURE_FORMATS[id].mustBeGiven).join(', ')}, which must be given`,
    },
    as: {
      type: 'string',
      value: 'KIND',
      help: 'digital or analog; by default detected from the first rows of a CSV file, and analog for raw samples of 8 or 16 bits',
    },
    bits: { type: 'string', value: 'N', help: 'bits of a raw sample: 1, 2, 4, 8 or 16 (1)' },
    signed: { type: 'boolean', help: 'raw samples are signed' },
    'big-endian': {
      type: 'boolean',
      help: '16-bit raw samples have the high byte first; with fewer bits, the first sample is in the highest bits',
    },
    step: { type: 'string', value: 'VOLT', help: 'volts per count of a raw analog sample' },
    'zero-count': {
      type: 'string',
      value: 'N',
      help: 'the raw count at 0 V, such as 128 for unsigned bytes (0)',
    },
    'probe-factor': {
      type: 'string',
      value: 'N',
      help: 'division factor of the probe, such as 10: volts are multiplied by it (1)',
    },
    current: {
      type: 'string',
      value: 'NAME',
      help: 'channel of a CSV file that holds the current on a service track',
    },
    'amp-per-volt': {
      type: 'string',
      value: 'N',
      help: 'amperes per volt of that channel, if its unit is not the ampere',
    },
    reference: {
      type: 'string',
      value: 'WHICH',
      help: 'zero or middle: 0 V of an analog record, or the middle of its plateaus; detected by default',
    },
    threshold: {
      type: 'string',
      value: 'VOLT',
      help: 'switching threshold of an analog record; by default zero, or the middle between its plateaus',
    },
    hysteresis: {
      type: 'string',
      value: 'VOLT',
      help: 'how far beyond the threshold the signal must go (two fifths of each plateau)',
    },
    skip: { type: 'string', value: 'TIME', help: 'time left out at the start' },
    from: { type: 'string', value: 'TIME', help: 'begin at this time of the file' },
    to: { type: 'string', value: 'TIME', help: 'end at this time of the file' },
    probe: {
      type: 'string',
      value: 'WHERE',
      choices: ['rails', 'logic'],
      help: 'rails or logic: where the probe was (rails)',
    },
    mode: {
      type: 'string',
      value: 'MODE',
      choices: ['operations', 'service'],
      help: 'operations or service (operations)',
    },
    cutout: { type: 'boolean', help: 'the station makes bidirectional cut-outs' },
    'power-off': {
      type: 'string',
      value: 'TIME',
      help: 'breaks in power of at least this length were switched off on purpose',
    },
    'saved-state': {
      type: 'boolean',
      help: 'the station starts from a saved state: no resets are due first',
    },
    'service-mode': {
      type: 'string',
      value: 'MODE',
      help: 'direct, paged, register or address-only, if several fit the packets',
    },
    design: {
      type: 'string',
      value: 'DESIGN',
      help: 'take profile, scale and outputs from this design file',
    },
    output: { type: 'string', value: 'NAME', help: 'output of the design that the capture shows' },
    profile: { type: 'string', value: 'NAME', choices: ['nmra', 'rcn'], help: 'nmra or rcn (nmra)' },
    edition: { type: 'string', value: 'YEAR', help: 'edition of the profile' },
    scale: { type: 'string', value: 'SCALE', help: 'scale of the railroad (H0)' },
    packets: { type: 'boolean', help: 'list every packet' },
    export: { type: 'string', value: 'FILE', writes: true, help: 'write the edges as .vcd or .csv' },
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
