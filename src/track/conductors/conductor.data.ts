/**
 * Conductors as data. Status of every table: see its comment; `test/published/iec-60228` and `nmra-rp-15-1` repeat the rows
 * with their source, so that a slip of the hand here shows.
 */

/** Lowest, usual and highest value of a figure that no document fixes. */
export interface Range {
  low: number
  usual: number
  high: number
}

/** Annealed copper, µOhm·cm at 20 °C. IEC 60028: 1/58 Ohm·mm²/m (quoted). */
export const COPPER_UOHM_CM = 1.7241
/** Temperature coefficient of copper at 20 °C, 1/K (power-engineering handbook table, confirmed). */
export const COPPER_PER_K = 0.00393

/**
 * Highest conductor resistance at 20 °C by cross-section in mm²: mOhm/m. IEC 60228 (quoted) from 0.5 mm²; below, a table following
 * DIN VDE 0295 (confirmed). `solid`: classes 1 and 2, plain; `flexible`: classes 5 and 6, plain; `tinned`: class 5.
 */
export const IEC_MAX_MOHM_PER_M: Readonly<
  Record<string, { solid?: number; flexible: number; tinned: number }>
> = {
  '0.14': { flexible: 134, tinned: 138 },
  '0.22': { flexible: 96, tinned: 99 },
  '0.25': { flexible: 76, tinned: 79 },
  '0.34': { flexible: 53, tinned: 56 },
  '0.5': { solid: 36.0, flexible: 39.0, tinned: 40.1 },
  '0.75': { solid: 24.5, flexible: 26.0, tinned: 26.7 },
  '1': { solid: 18.1, flexible: 19.5, tinned: 20.0 },
  '1.5': { solid: 12.1, flexible: 13.3, tinned: 13.7 },
  '2.5': { solid: 7.41, flexible: 7.98, tinned: 8.21 },
  '4': { solid: 4.61, flexible: 4.95, tinned: 5.09 },
  '6': { solid: 3.08, flexible: 3.3, tinned: 3.39 },
}

/** Resistivity of rail at 20 °C, µOhm·cm, and its temperature coefficient, 1/K. */
export interface Alloy {
  title: string
  resistivity: Range
  perK: number
  /** Volumetric heat capacity, J/(mm³·K); from memory, handbook values. */
  heat: number
}

/**
 * Rail alloys. Nickel silver is 19.2 (C74500, data sheet) to 28.7 (C75200, from memory) µOhm·cm and rarely declared, so it is a
 * range around C73100 (23.0, data sheet). Brass: C26000, 6.16 (data sheet); spread ±5 % assumed. Steel 1010 ≈ 14.3 and stainless
 * 304 ≈ 72: from memory. Temperature coefficients: from memory. Steel rail is several times worse at edge
 * frequencies than these direct-current figures (skin effect).
 */
export const ALLOYS = {
  'nickel silver': {
    title: 'nickel silver',
    resistivity: { low: 19.2, usual: 23.0, high: 28.7 },
    perK: 0.0003,
    heat: 0.0034,
  },
  brass: { title: 'brass', resistivity: { low: 5.9, usual: 6.16, high: 6.5 }, perK: 0.0015, heat: 0.0032 },
  steel: { title: 'steel', resistivity: { low: 13, usual: 14.3, high: 17 }, perK: 0.005, heat: 0.0036 },
  stainless: {
    title: 'stainless steel',
    resistivity: { low: 70, usual: 72, high: 75 },
    perK: 0.001,
    heat: 0.004,
  },
} as const satisfies Record<string, Alloy>

export type AlloyName = keyof typeof ALLOYS

/** Outline of a rail, inches: NMRA RP-15.1 Table 1 (confirmed). Height is the code in thousandths. */
export interface RailOutline {
  height: number
  base: number
  head: number
  /** D, depth of the foot. */
  foot: number
  /** F, depth of the head. */
  headDepth: number
}

export const RAIL_OUTLINES: Readonly<Record<number, RailOutline>> = {
  297: { height: 0.297, base: 0.25, head: 0.125, foot: 0.05, headDepth: 0.083 },
  250: { height: 0.25, base: 0.224, head: 0.112, foot: 0.044, headDepth: 0.073 },
  208: { height: 0.208, base: 0.188, head: 0.094, foot: 0.038, headDepth: 0.063 },
  172: { height: 0.172, base: 0.156, head: 0.078, foot: 0.031, headDepth: 0.052 },
  148: { height: 0.148, base: 0.132, head: 0.066, foot: 0.026, headDepth: 0.044 },
  125: { height: 0.125, base: 0.125, head: 0.063, foot: 0.021, headDepth: 0.035 },
  100: { height: 0.1, base: 0.09, head: 0.045, foot: 0.018, headDepth: 0.03 },
  83: { height: 0.083, base: 0.08, head: 0.04, foot: 0.016, headDepth: 0.027 },
  70: { height: 0.07, base: 0.07, head: 0.035, foot: 0.014, headDepth: 0.023 },
  55: { height: 0.055, base: 0.055, head: 0.028, foot: 0.011, headDepth: 0.018 },
  40: { height: 0.04, base: 0.04, head: 0.02, foot: 0.008, headDepth: 0.013 },
}

/** Codes in use that RP-15.1 does not list; their section is scaled from the nearest outline by the square of the height. */
export const SCALED_CODES: Readonly<Record<number, number>> = { 332: 297, 80: 83, 75: 83, 60: 55 }

/** Contact resistance of one rail joint, Ohm. Common practice, no source: a few mOhm soldered, tens when only pushed together. */
export const JOINERS = {
  soldered: { title: 'soldered', ohm: { low: 0.001, usual: 0.002, high: 0.005 } },
  slip: { title: 'pushed together', ohm: { low: 0.005, usual: 0.02, high: 0.05 } },
  bad: { title: 'loose or corroded', ohm: { low: 0.2, usual: 0.5, high: 2 } },
} as const

export type JoinerName = keyof typeof JOINERS

/** Volumetric heat capacity of copper, J/(mm³·K): 3.45e-3 as used for short-circuit ratings (from memory, IEC 60724). */
export const COPPER_HEAT = 0.00345
