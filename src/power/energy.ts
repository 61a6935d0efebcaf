/** What a short lets through until it trips, and what wire and fuse stand. */

/**
 * I²t that a copper conductor stands without loss of heat, A²s: (k · S)², with
 * k = 226 · √ln(1 + (final − first) / (234.5 + first)). Source: IEC 60949 adiabatic formula for copper as used in
 * IEC 60364-5-54 annex A (from memory); PVC from 70 to 160 °C gives k = 115.
 * @param areaMm2 cross-section, mm2
 */
export function copperI2t(areaMm2: number, firstC = 40, finalC = 160): number {
  return (copperK(firstC, finalC) * areaMm2) ** 2
}

/** The factor k of {@link copperI2t}, A·√s/mm². */
export function copperK(firstC: number, finalC: number): number {
  return 226 * Math.sqrt(Math.log(1 + (finalC - firstC) / (234.5 + firstC)))
}

/** I²t of a constant current over a time, A²s. */
export function i2t(amp: number, us: number): number {
  return amp * amp * us * 1e-6
}

/**
 * I²t of a capacitor that empties through a resistance, A²s: ∫ (V/R)² e^(−2t/RC) dt = V² C / (2 R). No limit of the
 * supply holds it back.
 */
export function capacitorI2t(farad: number, volt: number, ohm: number): number {
  return (volt * volt * farad) / (2 * Math.max(ohm, 1e-3))
}

/** Insulation of a wire, mm: it makes it thicker and gives its heat more surface; assumed, no source. */
const INSULATION_MM = 0.7
/** Heat that a thin wire gives to still air by convection and radiation, W/(m²·K); handbook range 12 to 20, from memory. */
const WIRE_AIR = 12.5

/**
 * Current that a copper wire carries continuously in still air, A: I²·R(T) = h·π·D·(T − air). At 70 °C in air of 40 °C, as
 * PVC allows; IEC 60204-1 table 6, single wires in free air at 40 °C, gives 7.9, 10.4, 12.4, 16.1 and 21 A for 0.5 to
 * 2.5 mm² (from memory).
 * @param areaMm2 cross-section, mm2
 */
export function copperAmpacity(areaMm2: number, airC = 40, wireC = 70): number {
  const diameterMm = Math.sqrt((4 * areaMm2) / Math.PI) + 2 * INSULATION_MM
  const ohmPerM = (0.017241 / areaMm2) * (1 + 0.00393 * (wireC - 20))
  return Math.sqrt((WIRE_AIR * Math.PI * diameterMm * 1e-3 * (wireC - airC)) / ohmPerM)
}
