/** Resistance of wires and rails from the tables; every figure at a given conductor temperature. */
import { awgDiameterMm, InputError } from '../../units/index.js'
import {
  ALLOYS,
  type AlloyName,
  COPPER_HEAT,
  COPPER_PER_K,
  COPPER_UOHM_CM,
  IEC_MAX_MOHM_PER_M,
  RAIL_OUTLINES,
  type Range,
  SCALED_CODES,
} from './conductor.data.js'

/** A conductor of even section: resistance of one metre and what a short does to it. */
export interface Conductor {
  /** As written, `14 AWG`. */
  name: string
  areaMm2: number
  /** Of one conductor at the given temperature. */
  ohmPerM: Range
  /** Diameter of the conductor, mm; of a rail, of the round wire of equal section. */
  diameterMm: number
  /** Heat to warm one metre by one kelvin, J/(m·K). */
  joulePerMK: number
  temperaturePerK: number
  /** Of one conductor at 20 °C. */
  ohmPerM20: Range
  /** Of a rail: its height, and how much of its outline lies open to the air. */
  rail?: { heightMm: number; openMm: number; alloy: AlloyName }
}

export type WireKind = 'solid' | 'flexible' | 'tinned'

const WIRE = /^(-?\d+(?:[.,]\d+)?)\s*(AWG|mm2|mm²)$/iu

/** R(T)/R(20 °C) = 1 + α·(T − 20). */
export function temperatureFactor(perK: number, celsius: number): number {
  return 1 + perK * (celsius - 20)
}

/**
 * One conductor of copper wire. AWG: ρ/A of solid copper by ASTM B258, up to 4 % more for stranded lay
 * (from memory). mm²: at most the limit of IEC 60228 for the kind, at least ρ/A with the nominal area; a size that
 * the table lacks may be up to 17 % above ρ/A, the largest excess in the table's class 5 from 0.5 mm².
 * @param text `14 AWG` (−3 for 4/0 to 40) or `1.5 mm2` (0.05 to 50).
 * @throws InputError saying what was expected.
 */
export function wireConductor(text: string, kind: WireKind = 'flexible', celsius = 20): Conductor {
  const match = WIRE.exec(text.trim())
  const number = match ? Number(match[1]!.replace(',', '.')) : Number.NaN
  const awg = match?.[2]?.toUpperCase() === 'AWG'
  const known = awg
    ? Number.isInteger(number) && number >= -3 && number <= 40
    : number >= 0.05 && number <= 50
  if (!known) {
    throw new InputError(
      `unknown wire "${text}"; expected an AWG number from -3 to 40 such as "14 AWG", or a section from 0.05 to 50 mm2 such as "1.5 mm2"`,
    )
  }
  const diameterMm = awg ? awgDiameterMm(number) : Math.sqrt((4 * number) / Math.PI)
  const areaMm2 = awg ? (Math.PI / 4) * diameterMm ** 2 : number
  const least = (10 * COPPER_UOHM_CM) / areaMm2
  const row = awg ? undefined : IEC_MAX_MOHM_PER_M[String(number)]
  const limit = row
    ? kind === 'solid'
      ? (row.solid ?? row.flexible)
      : row[kind]
    : least * (awg ? 1.04 : 1.17)
  const most = Math.max(limit, least)
  const warm = temperatureFactor(COPPER_PER_K, celsius) / 1000
  const usual = awg ? least : (least + most) / 2
  return {
    name: awg ? `${number} AWG` : `${number} mm2`,
    areaMm2,
    ohmPerM: { low: least * warm, usual: usual * warm, high: most * warm },
    diameterMm,
    joulePerMK: COPPER_HEAT * areaMm2 * 1000,
    temperaturePerK: COPPER_PER_K,
    ohmPerM20: { low: least / 1000, usual: usual / 1000, high: most / 1000 },
  }
}

/**
 * Section of a rail, mm². RP-15.1 leaves the web open: it is taken as 0.45 of the head's width (usual), 0.15
 * and 0.70 at the ends of the range; 5 % off for fillets. So ±15…20 %, derived.
 * @throws InputError naming the codes there are.
 */
export function railAreaMm2(code: number): Range {
  const base = RAIL_OUTLINES[code] ? code : SCALED_CODES[code]
  const outline = base === undefined ? undefined : RAIL_OUTLINES[base]
  if (!outline || base === undefined) {
    throw new InputError(`unknown rail code ${code}; expected one of ${railCodes().join(', ')}`)
  }
  const scale = (code / base) ** 2 * 25.4 ** 2 * 0.95
  const { height, base: width, head, foot, headDepth } = outline
  const area = (web: number) =>
    scale * (head * headDepth + width * foot + web * head * (height - foot - headDepth))
  return { low: area(0.15), usual: area(0.45), high: area(0.7) }
}

/** Height of a rail, and what of its outline lies open: both sides and the head, not the foot's underside. */
function railOutlineMm(code: number): { heightMm: number; openMm: number } {
  const base = RAIL_OUTLINES[code] ? code : SCALED_CODES[code]!
  const { height, base: width, head } = RAIL_OUTLINES[base]!
  const scale = (25.4 * code) / base
  return { heightMm: height * scale, openMm: (2 * height + (width - head) + head) * scale }
}

/** Every rail code that has a section here, smallest first. */
export function railCodes(): number[] {
  return [...Object.keys(RAIL_OUTLINES), ...Object.keys(SCALED_CODES)].map(Number).sort((a, b) => a - b)
}

/** One rail. The range joins that of the alloy with that of the section. @throws InputError as {@link railAreaMm2} */
export function railConductor(code: number, alloy: AlloyName, celsius = 20): Conductor {
  const area = railAreaMm2(code)
  const { resistivity, perK, heat, title } = ALLOYS[alloy]
  const warm = temperatureFactor(perK, celsius) / 100
  return {
    name: `code ${code} ${title}`,
    areaMm2: area.usual,
    ohmPerM: {
      low: (resistivity.low * warm) / area.high,
      usual: (resistivity.usual * warm) / area.usual,
      high: (resistivity.high * warm) / area.low,
    },
    diameterMm: Math.sqrt((4 * area.usual) / Math.PI),
    joulePerMK: heat * area.low * 1000,
    temperaturePerK: perK,
    ohmPerM20: {
      low: resistivity.low / 100 / area.high,
      usual: resistivity.usual / 100 / area.usual,
      high: resistivity.high / 100 / area.low,
    },
    rail: { ...railOutlineMm(code), alloy },
  }
}

/**
 * Temperature rise of a conductor that carries `amp` for `timeUs`, K, without heat lost (adiabatic, with the
 * resistance growing as it warms): dT/dt = I²·R(T)/c.
 */
export function adiabaticRiseK(c: Conductor, amp: number, timeUs: number): number {
  const rate = (amp * amp * c.ohmPerM.high) / c.joulePerMK
  const x = rate * c.temperaturePerK * timeUs * 1e-6
  if (x > 50) return Number.POSITIVE_INFINITY
  return c.temperaturePerK === 0 ? rate * timeUs * 1e-6 : Math.expm1(x) / c.temperaturePerK
}

/** Resistance of one conductor, mOhm/m, by formula from the ASTM B258 diameter and the IEC 60028 resistivity. */
export function awgMilliohmPerM(awg: number): number {
  return (10 * COPPER_UOHM_CM) / ((Math.PI / 4) * awgDiameterMm(awg) ** 2)
}
