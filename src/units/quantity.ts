/**
 * Quantities as people write them. Every dimension has one base unit, the one that the suffix of a bare
 * number in a name tells (`halfBitUs`, `wireMm`, `railAmp`).
 *
 * Source of the factors: the International System of Units (SI brochure, 9th edition); inch = 25.4 mm exactly
 * (international yard and pound agreement, 1959); AWG by ASTM B258: d(mm) = 0.127 · 92^((36 − n)/39).
 */

export type Dimension = keyof typeof DIMENSIONS

interface DimensionInfo {
  /** Base unit as printed. */
  base: string
  /** Unit text → factor to the base unit. */
  units: Readonly<Record<string, number>>
  /** What to write, for messages. */
  example: string
}

const TIME = { ns: 1e-3, us: 1, µs: 1, μs: 1, ms: 1e3, s: 1e6, min: 60e6, h: 3600e6 }
const LENGTH = { um: 1e-3, mm: 1, cm: 10, m: 1e3, km: 1e6, in: 25.4, '"': 25.4, ft: 304.8 }

export const DIMENSIONS = {
  time: { base: 'us', units: TIME, example: '58 us' },
  frequency: { base: 'Hz', units: { Hz: 1, kHz: 1e3, MHz: 1e6, GHz: 1e9 }, example: '16 MHz' },
  length: { base: 'mm', units: LENGTH, example: '1.2 m' },
  area: { base: 'mm2', units: { mm2: 1, 'mm²': 1, cm2: 100, 'cm²': 100 }, example: '1.5 mm2' },
  voltage: { base: 'V', units: { uV: 1e-6, mV: 1e-3, V: 1, kV: 1e3 }, example: '15 V' },
  current: { base: 'A', units: { uA: 1e-6, µA: 1e-6, mA: 1e-3, A: 1 }, example: '1.2 A' },
  resistance: {
    base: 'Ohm',
    units: { mOhm: 1e-3, mΩ: 1e-3, Ohm: 1, ohm: 1, Ω: 1, kOhm: 1e3, kΩ: 1e3, MOhm: 1e6, MΩ: 1e6 },
    example: '0.1 Ohm',
  },
  capacitance: {
    base: 'F',
    units: { pF: 1e-12, nF: 1e-9, uF: 1e-6, µF: 1e-6, mF: 1e-3, F: 1 },
    example: '100 nF',
  },
  inductance: { base: 'H', units: { nH: 1e-9, uH: 1e-6, µH: 1e-6, mH: 1e-3, H: 1 }, example: '0.5 uH' },
  power: { base: 'W', units: { mW: 1e-3, W: 1, kW: 1e3 }, example: '60 W' },
  energy: { base: 'J', units: { mJ: 1e-3, J: 1, kJ: 1e3, Wh: 3600 }, example: '7.5 J' },
  temperature: { base: '°C', units: { C: 1, '°C': 1, degC: 1 }, example: '25 C' },
  thermal: { base: 'K/W', units: { 'K/W': 1, 'C/W': 1, '°C/W': 1 }, example: '35 K/W' },
  ratio: { base: '', units: { '': 1, '%': 1e-2, ppm: 1e-6 }, example: '0.5 %' },
  slope: { base: 'V/us', units: { 'V/us': 1, 'V/µs': 1, 'V/ns': 1e3, 'V/s': 1e-6 }, example: '2.4 V/us' },
  speed: {
    base: 'mm/s',
    units: { 'mm/s': 1, 'cm/s': 10, 'm/s': 1e3, 'km/h': 1e6 / 3600 },
    example: '400 mm/s',
  },
  rate: {
    base: '1/s',
    units: { '/s': 1, '1/s': 1, 'S/s': 1, '/min': 1 / 60, '/h': 1 / 3600 },
    example: '20 /s',
  },
  baud: { base: 'baud', units: { '': 1, baud: 1, Bd: 1, kBd: 1e3 }, example: '115200 baud' },
  data: { base: 'byte', units: { '': 1, B: 1, byte: 1, bytes: 1, kB: 1024, KiB: 1024 }, example: '2 kB' },
} as const satisfies Record<string, DimensionInfo>

/** A value read, or the reason it could not be. */
export type Parsed = { ok: true; value: number } | { ok: false; expected: string }

const QUANTITY = /^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$/u

/**
 * Read a quantity such as `58 us`, `1,2 A` (decimal comma), `14 AWG` (length: diameter, area: cross-section).
 * @returns the value in the base unit of the dimension (see {@link DIMENSIONS}), finite; or what was expected.
 */
export function parseQuantity(text: string | number, dimension: Dimension): Parsed {
  const info: DimensionInfo = DIMENSIONS[dimension]
  const units = Object.keys(info.units).filter((u) => u !== '' && !/[µμΩ²°"]/u.test(u))
  const expected = `a number with a unit (${units.join(', ')}), such as "${info.example}"`
  const cleaned = String(text)
    .trim()
    .replace(/\u00a0/g, ' ')
  const match = QUANTITY.exec(/^[^.]*\d,\d/u.test(cleaned) ? cleaned.replace(',', '.') : cleaned)
  if (!match) return { ok: false, expected }
  const number = Number(match[1])
  const unit = match[2]!.trim()
  if (!Number.isFinite(number)) return { ok: false, expected }
  if (unit === 'AWG' && (dimension === 'length' || dimension === 'area')) {
    if (number < -3 || number > 56) return { ok: false, expected: 'an AWG number from -3 to 56' }
    const mm = awgDiameterMm(number)
    return { ok: true, value: dimension === 'length' ? mm : (Math.PI / 4) * mm * mm }
  }
  const factor = Object.hasOwn(info.units, unit) ? info.units[unit] : undefined
  if (factor === undefined) return { ok: false, expected }
  const value = number * factor
  return Number.isFinite(value) ? { ok: true, value } : { ok: false, expected }
}

/**
 * Diameter of a solid AWG conductor in mm. Source: ASTM B258, d = 0.127 mm · 92^((36 − n)/39).
 * @param awg gauge number; 0 is 1/0, −1 is 2/0 and so on.
 */
export function awgDiameterMm(awg: number): number {
  return 0.127 * 92 ** ((36 - awg) / 39)
}
