type Level = Map<number, unknown>

/** So many results are kept; beyond, as samples of a yield are, all are forgotten: corners are far fewer. */
const MOST = 4096

/**
 * Remember what a slow function of a few numbers gave, for exactly those numbers: corners of one question are asked about again and
 * again. It lives as long as the function that is returned.
 */
export function memo<A extends number[], R>(slow: (...args: A) => R): (...args: A) => R {
  const known: Level = new Map()
  let count = 0
  return (...args) => {
    let level = known
    const last = args.length - 1
    for (let i = 0; i < last; i++) {
      let next = level.get(args[i]!) as Level | undefined
      if (!next) {
        next = new Map()
        level.set(args[i]!, next)
      }
      level = next
    }
    const found = level.get(args[last]!) as { result: R } | undefined
    if (found) return found.result
    const result = slow(...args)
    if (++count > MOST) {
      known.clear()
      count = 1
    }
    level.set(args[last]!, { result })
    return result
  }
}
