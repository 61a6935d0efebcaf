/** What decides how a conductor loses its heat. */

/** Surface of a wire's insulation or of a tarnished rail, as a share of a black body's radiation; handbook values, from memory. */
export const EMISSIVITY = { insulation: 0.9, rail: 0.2 } as const
/** Heat conductivity of PVC, W/(m·K); from memory. */
export const PVC_W_PER_M_K = 0.17
/** Of a bundle of wires with the air between them, W/(m·K); assumed, no source. */
export const BUNDLE_W_PER_M_K = 0.1
/** Thickness of a wire's insulation, mm: thin for hook-up wire, thick for installation wire; common practice, no source. */
export const INSULATION_MM = { low: 0.3, high: 0.8 } as const
/** Wires of a bundle that all carry the current, and how much of its section they fill; common practice, no source. */
export const BUNDLE = { wires: 6, filled: 0.7 } as const

/** Air at 50 °C; handbook values, from memory. */
export const AIR = {
  wattPerMK: 0.0278,
  viscosityM2PerS: 1.79e-5,
  diffusivityM2PerS: 2.54e-5,
  prandtl: 0.705,
} as const
export const STEFAN_BOLTZMANN = 5.670374e-8

/** Heat conductivity of rail, W/(m·K); handbook values, from memory. */
export const RAIL_W_PER_M_K = { 'nickel silver': 30, brass: 115, steel: 50, stainless: 15 } as const
/** Length of a joiner, mm; common practice, no source. */
export const JOINER_MM = 12
