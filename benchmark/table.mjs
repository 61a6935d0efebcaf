// What was measured as a table: now beside wanted, every figure with its spread.
import { median } from './measuring.mjs'

const digits = (value) =>
  value >= 100 ? value.toFixed(0) : value >= 10 ? value.toFixed(1) : value.toFixed(2)

/** The median, and from the least to the greatest. */
export function spread(samples) {
  const range = samples.length > 1 ? ` (${digits(Math.min(...samples))}–${digits(Math.max(...samples))})` : ''
  return digits(median(samples)) + range
}

/** Round by round, so that a busy moment hits both sides. */
const ratios = (a, b) => a.map((value, i) => value / b[Math.min(i, b.length - 1)])

/** @returns the ratio to the referee of each round; undefined without one. */
export function toReferee({ samples, referee }, figure) {
  if (!referee?.samples?.length || !samples?.length) return undefined
  const turned = figure.referee.as === 'times' && figure.better === 'less'
  return turned ? ratios(referee.samples, samples) : ratios(samples, referee.samples)
}

/** @returns how many times as fast as the commit compared with, round by round. */
export function toCommit({ samples, against }, figure) {
  if (!against?.samples?.length || !samples?.length) return undefined
  return figure.better === 'more' ? ratios(samples, against.samples) : ratios(against.samples, samples)
}

function wantedText({ wanted, unit, referee }) {
  if (wanted === undefined) return ''
  if (wanted.text) return wanted.text
  const bound = wanted.atLeast ?? wanted.atMost
  const most = wanted.atMost === undefined ? '' : 'at most '
  const rounded = Number(bound.toFixed(2))
  if (wanted.of === 'now') return `${most}${rounded} ${unit}`
  if (wanted.of === 'commit') return `${rounded} × the commit`
  return `${most}${rounded} ${referee.name}`
}

/** @returns 'yes', 'no', or '' where it cannot be said. */
function isReached(result, figure) {
  const { wanted } = figure
  if (wanted?.of === undefined || !result.samples?.length) return ''
  const from = {
    now: () => result.samples,
    referee: () => toReferee(result, figure),
    commit: () => toCommit(result, figure),
  }
  const values = from[wanted.of]()
  if (values === undefined) return ''
  const value = median(values)
  return value >= (wanted.atLeast ?? Number.NEGATIVE_INFINITY) &&
    value <= (wanted.atMost ?? Number.POSITIVE_INFINITY)
    ? 'yes'
    : 'no'
}

/** @param results one for each figure: `{ row, figure, samples, referee, against, failed }`. */
export function tableText(results, rows, against) {
  const head = ['work', 'now', 'beside the referee', 'wanted', 'reached']
  if (against) head.push(`times ${against}`)
  const lines = results.map((result) => {
    const figure = rows.find((r) => r.name === result.row).figures.find((f) => f.id === result.figure)
    const beside = toReferee(result, figure)
    const faster = toCommit(result, figure)
    const cells = [
      figure.work,
      result.samples?.length ? `${spread(result.samples)} ${figure.unit}` : `not measured: ${result.failed}`,
      beside ? `${spread(beside)} ${figure.referee.name}` : (result.referee?.failed ?? ''),
      wantedText(figure),
      isReached(result, figure),
    ]
    if (against) cells.push(faster ? `${spread(faster)} ×` : (result.against?.failed ?? ''))
    return cells
  })
  const widths = head.map((_, i) => Math.max(...[head, ...lines].map((line) => line[i].length)))
  const print = (cells) => `| ${cells.map((cell, i) => cell.padEnd(widths[i])).join(' | ')} |`
  return [print(head), `|${widths.map((w) => '-'.repeat(w + 2)).join('|')}|`, ...lines.map(print)].join('\n')
}
