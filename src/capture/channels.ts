/** Choosing a channel by name or number. */
import { InputError, nearest } from '../units/index.js'

/**
 * Indices of the channels wanted, one or two (to subtract); undefined when none was asked for.
 * A name may be the whole one, or any unambiguous end of it (`main` for `top.station.main`); a number counts from 1.
 * @throws InputError naming the channels there are.
 */
export function chooseChannels(
  names: readonly string[],
  wanted: readonly string[] | undefined,
): number[] | undefined {
  if (wanted === undefined || wanted.length === 0) return undefined
  if (wanted.length > 2) throw new InputError(`${wanted.length} channels; expected one, or two to subtract`)
  const [only] = wanted
  if (wanted.length === 1 && find(names, only!) === undefined && only!.includes('-')) {
    for (let i = only!.indexOf('-'); i > 0; i = only!.indexOf('-', i + 1)) {
      const pair = [find(names, only!.slice(0, i).trim()), find(names, only!.slice(i + 1).trim())]
      if (pair[0] !== undefined && pair[1] !== undefined) return pair as number[]
    }
  }
  return wanted.map((name) => {
    const index = find(names, name)
    if (index !== undefined) return index
    const close = nearest(name, [...names, ...names.map((n) => n.slice(n.lastIndexOf('.') + 1))])
    const list = names
      .slice(0, 12)
      .map((n) => JSON.stringify(n))
      .join(', ')
    const more = names.length > 12 ? ` and ${names.length - 12} more` : ''
    const hint = close ? `; the nearest is ${JSON.stringify(close)}` : ''
    throw new InputError(`no channel ${JSON.stringify(name)}${hint}; the file has ${list || 'none'}${more}`)
  })
}

function find(names: readonly string[], wanted: string): number | undefined {
  const exact = names.indexOf(wanted)
  if (exact >= 0) return exact
  const lower = wanted.toLowerCase()
  const same = matches(names, (n) => n.toLowerCase() === lower)
  if (same.length === 1) return same[0]
  // A title may carry its unit: `CH1 (V)` is CH1.
  const bare = matches(names, (n) => /^(.*\S)\s*[[(][^\])]*[\])]$/.exec(n)?.[1]?.toLowerCase() === lower)
  if (bare.length === 1) return bare[0]
  const ends = matches(names, (n) => n.toLowerCase().endsWith(`.${lower}`))
  if (ends.length === 1) return ends[0]
  if (ends.length > 1) {
    throw new InputError(
      `channel ${JSON.stringify(wanted)} could be ${ends.map((i) => names[i]).join(' or ')}; give more of its name`,
    )
  }
  const number = /^\d{1,4}$/.test(wanted) ? Number(wanted) : 0
  return number >= 1 && number <= names.length ? number - 1 : undefined
}

function matches(names: readonly string[], test: (name: string) => boolean): number[] {
  return names.flatMap((n, i) => (test(n) ? [i] : []))
}
