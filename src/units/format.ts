/** Numbers for people: few digits, a unit whose number is easy to read, never exponent form in usual ranges. */

/** Round to `digits` significant digits and print without trailing zeros or exponent. */
export function formatNumber(value: number, digits = 4): string {
  if (!Number.isFinite(value)) return value > 0 ? '∞' : value < 0 ? '−∞' : 'n/a'
  if (value === 0) return '0'
  const places = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))))
  const text = value.toFixed(Math.min(places, 12))
  return text.includes('.') ? text.replace(/\.?0+$/, '') : text
}

const TIME_STEPS: readonly [number, string][] = [
  [60e6, 'min'],
  [1e6, 's'],
  [1e3, 'ms'],
  [1, 'us'],
  [1e-3, 'ns'],
]

/** A duration given in us, in the unit that reads best. */
export function formatTimeUs(us: number, digits = 4): string {
  const size = Math.abs(us)
  if (size === 0 || !Number.isFinite(size)) return `${formatNumber(us)} us`
  const [factor, unit] = TIME_STEPS.find(([f]) => size >= f * (f >= 60e6 ? 2 : 1)) ?? [1e-3, 'ns']
  return `${formatNumber(us / factor, digits)} ${unit}`
}

const SI: readonly [number, string][] = [
  [1e9, 'G'],
  [1e6, 'M'],
  [1e3, 'k'],
  [1, ''],
  [1e-3, 'm'],
  [1e-6, 'u'],
  [1e-9, 'n'],
  [1e-12, 'p'],
]

/** A value in an SI base unit with the prefix that reads best: `formatSi(0.06, 'A')` is `60 mA`. */
export function formatSi(value: number, unit: string, digits = 4): string {
  const size = Math.abs(value)
  if (size === 0 || !Number.isFinite(size)) return `${formatNumber(value)} ${unit}`
  const [factor, prefix] = SI.find(([f]) => size >= f) ?? [1e-12, 'p']
  return `${formatNumber(value / factor, digits)} ${prefix}${unit}`
}

/** A unit after its number: a name such as `us` alone is none. */
const TYPESET: readonly [RegExp, string][] = [
  [/([\d∞)] ?|[VA]\/)us\b/gu, '$1µs'],
  [/([\d∞)] ?)u([AFHV])\b/gu, '$1µ$2'],
  [/([\d∞)] ?)([mkM]?)Ohm\b(?!['’])/gu, '$1$2Ω'],
  [/([\d∞)] ?)([mc]m)2\b/gu, '$1$2²'],
]

/**
 * With the signs of the SI brochure where a sentence has their plain spelling: `58 us` becomes `58 µs`, `4.7 kOhm`
 * `4.7 kΩ`, `1.5 mm2` `1.5 mm²`. For screens and pages; a design file understands both spellings.
 */
export function typeset(text: string): string {
  if (!/u[sAFHV]\b|Ohm\b|m2\b/u.test(text)) return text
  return TYPESET.reduce((said, [plain, sign]) => said.replace(plain, sign), text)
}

/** A share as per cent: 0.0517 is `5.17 %`. */
export function formatShare(share: number, digits = 3): string {
  return `${formatNumber(share * 100, digits)} %`
}

/** A byte as two hexadecimal digits: 10 is `0A`. */
export function formatByte(byte: number): string {
  return byte.toString(16).padStart(2, '0').toUpperCase()
}

/** Bytes in hexadecimal with spaces between: `37 74 43`. */
export function formatBytes(bytes: ArrayLike<number>, length = bytes.length): string {
  return Array.from({ length }, (_, i) => formatByte(bytes[i]!)).join(' ')
}

/** With a capital at its beginning, as a sentence or heading has it. */
export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}
