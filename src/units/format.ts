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

/** The step of a time that is read in it, and microseconds below a millisecond: nobody compares 730 ns with 3 us. */
function timeStep(us: number): readonly [number, string] {
  return TIME_STEPS.find(([f]) => f >= 1 && us >= f * (f >= 60e6 ? 2 : 1)) ?? [1, 'us']
}

/** Ends further apart than this are not read in one unit: 11 ms to 60 min. */
const FAR_APART = 200

/**
 * The range of a value, or the value itself where both ends are one: one unit for both ends and the same number of
 * decimal places, as many as `digits` significant digits of the larger end take; a zero that both end in is left out.
 * Times given in `us` are written in the unit that reads best: `57.004 to 59.01` is `57.004 to 59.010 us`, `6532 to 9292`
 * is `6.532 to 9.292 ms`.
 */
export function formatRange(low: number, high: number, unit: string, digits = 5): string {
  const [least, most] = [Math.abs(low), Math.abs(high)].sort((a, b) => a - b) as [number, number]
  if (unit === 'us' && Number.isFinite(most)) {
    const [factor, best] = timeStep(least === 0 ? most : least)
    if (least > 0 && most > FAR_APART * least && timeStep(most)[0] > factor)
      return `${formatTimeUs(low, digits)} to ${formatTimeUs(high, digits)}`
    if (factor > 1) return formatRange(low / factor, high / factor, best, digits)
  }
  return `${formatEnds(low, high, digits)} ${unit}`.trim()
}

/** Both ends without their unit, as {@link formatRange} writes them. */
export function formatEnds(low: number, high: number, digits = 5): string {
  const most = Math.max(Math.abs(low), Math.abs(high))
  if (!Number.isFinite(most) || low === high) {
    const [a, b] = [formatNumber(low, digits), formatNumber(high, digits)]
    return a === b ? a : `${a} to ${b}`
  }
  let places = Math.min(12, Math.max(0, digits - 1 - Math.floor(Math.log10(most))))
  const ends = () => [low.toFixed(places), high.toFixed(places)]
  while (places > 0 && ends().every((end) => end.endsWith('0'))) places--
  const [a, b] = ends()
  return a === b ? a! : `${Number(a) === 0 ? '0' : a} to ${Number(b) === 0 ? '0' : b}`
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
