/** The timer search as text: a table of the configurations, the registers of one of them, and what was rejected. */
import {
  groupOptions,
  type OptionGroup,
  type SearchResult,
  TIMER_WAY,
  type TimerOption,
  whyAfter,
} from '../controller/index.js'
import { textTable, wrapText } from '../plot/index.js'
import { valueText } from '../proof/words.js'
import { isShown, type Statement } from '../standard/index.js'
import { formatNumber, formatRange, formatShare, formatTimeUs } from '../units/index.js'

export interface OutputTimers {
  name: string
  wanted: { oneHalfUs: number; zeroHalfUs: number; pin: string; inverted?: string; method?: string }
  found: SearchResult
  /** What the design itself chooses; absent when no timer can make it. */
  choice?: TimerOption
  leftOpen?: string
  /** The option whose registers are shown. */
  shown?: TimerOption
  evidence: Statement[]
}

function places(g: OptionGroup, most: number): string {
  const text = g.places.map(
    (p) => `${p.timer}: ${p.pins.slice(0, most).join(' ')}${p.pins.length > most ? ' …' : ''}`,
  )
  return text.length > 2 ? `${text.slice(0, 2).join('; ')}; ${text.length - 2} more` : text.join('; ')
}

const RESERVATIONS: readonly string[] = ['timers/timer-reserved', 'timers/pin-reserved']

/** A way that nothing but a reservation in the design forbids. */
export function onlyReserved(o: TimerOption): boolean {
  return o.refusals.length > 0 && o.refusals.every((f) => RESERVATIONS.includes(f.code))
}

/** The whole report of one output. */
export function outputTimersText(t: OutputTimers, width: number, all: boolean): string[] {
  const { found, wanted } = t
  const pins = wanted.inverted === undefined ? wanted.pin : `${wanted.pin} and, inverted, ${wanted.inverted}`
  const lines = [
    ...wrapText(
      `Output ${t.name}: halves of ${formatNumber(wanted.oneHalfUs)} us and ${formatNumber(wanted.zeroHalfUs)} us on ${pins}, ${wanted.method === undefined ? 'method left open' : `method ${wanted.method}`}`,
      width,
      '  ',
    ),
    '',
  ]
  const groups = groupOptions(found.options)
  if (groups.length === 0) lines.push('No timer of this controller can make this signal with this clock.', '')
  else lines.push(...optionTable(all ? groups : groups.slice(0, 10), width), '')
  lines.push(...order(all ? groups : groups.slice(0, 10), width))
  if (!all && groups.length > 10) lines.push(`${groups.length - 10} more: --all lists them.`, '')
  if (
    found.best &&
    (found.best.oneHalfUs !== wanted.oneHalfUs || found.best.zeroHalfUs !== wanted.zeroHalfUs)
  ) {
    lines.push(
      ...wrapText(
        `Best half-bits for the first of them: ${formatNumber(found.best.oneHalfUs, 6)} us and ${formatNumber(found.best.zeroHalfUs, 6)} us.`,
        width,
      ),
      '',
    )
  }
  lines.push(...choiceLines(t, width))
  if (t.shown) lines.push(...details(t.shown, width), '')
  lines.push(...refusedLines(found, width, all))
  lines.push(...evidenceLines(t.evidence, width))
  return lines
}

function optionTable(groups: readonly OptionGroup[], width: number): string[] {
  return textTable(
    [
      { head: '#', align: 'right' },
      { head: 'configuration', wrap: 16 },
      { head: 'timer: pins', wrap: 24 },
      { head: '/', align: 'right' },
      { head: 'one', align: 'right' },
      { head: 'zero', align: 'right' },
      { head: 'headroom', align: 'right' },
      { head: 'may be late', align: 'right' },
      { head: 'a miss' },
      { head: 'stretch', align: 'right' },
      { head: 'int/s', align: 'right' },
      { head: 'CPU', align: 'right' },
    ],
    groups.map((g, i) => {
      const o = g.option
      return [
        String(i + 1),
        TIMER_WAY[o.behaviour],
        places(g, o.channel === 'any' ? 1 : o.inverted === undefined ? 3 : 2),
        `${o.divider}`,
        formatTimeUs(o.one.us, 5),
        formatTimeUs(o.zero.us, 5),
        formatShare(o.headroom, 2),
        formatTimeUs(o.deadline.lateUs, 3),
        o.deadline.pulseUs === undefined
          ? ({ list: 'stall or repeat', 'bit-next': 'old bit', 'half-next': 'old half', pin: 'late edge' }[
              o.behaviour as string
            ] ?? '')
          : `pulse ${formatTimeUs(o.deadline.pulseUs, 3)}`,
        formatTimeUs(o.longestZeroUs, 3),
        formatNumber(o.interruptsPerSecond, 3),
        formatShare(o.cpuShare, 2),
      ]
    }),
    width,
  )
}

/** Why each comes after the one before it, the same reasons put together. */
function order(groups: readonly OptionGroup[], width: number): string[] {
  const reasons = new Map<string, number[]>()
  for (const [i, g] of groups.entries()) {
    const before = groups[i - 1]
    if (!before) continue
    const why = whyAfter(g.option, before.option) ?? 'equal'
    reasons.set(why, [...(reasons.get(why) ?? []), i + 1])
  }
  if (reasons.size === 0) return []
  const text = [...reasons].map(([why, ranks]) => `${ranks.join(', ')}: ${why}`).join('; ')
  return [...wrapText(`Ranked after the one before it because of: ${text}.`, width), '']
}

function choiceLines(t: OutputTimers, width: number): string[] {
  const { choice } = t
  if (!choice) {
    return [
      ...wrapText(
        `The design's own choice: no timer of this controller drives ${t.wanted.pin} that way.`,
        width,
      ),
      '',
    ]
  }
  const rank = groupOptions(t.found.options).findIndex(
    (g) =>
      g.option.modeId === choice.modeId &&
      g.option.divider === choice.divider &&
      g.places.some((p) => p.timer === choice.timer.name),
  )
  const place =
    choice.refused !== undefined
      ? `rejected, ${choice.refused}`
      : rank >= 0
        ? `it is number ${rank + 1} of the list`
        : 'it is not in the list'
  const open = t.leftOpen ? `; the design leaves the ${t.leftOpen} open` : ''
  return [...wrapText(`The design's own choice: ${choice.id}; ${place}${open}.`, width), '']
}

function details(o: TimerOption, width: number): string[] {
  const prose = (text: string) => wrapText(text, width - 2, '  ').map((l) => `  ${l}`)
  const half = (name: string, h: TimerOption['one']) =>
    `${name} ${h.ticks} ticks = ${formatTimeUs(h.us, 7)}, ${signed(h.errorUs)} us, ${signed(h.errorPpm)} ppm; with the clock ${formatRange(h.lowUs, h.highUs, 'us')}`
  return [
    `${o.id}`,
    ...prose(`${o.timer.name}, ${o.mode}`),
    ...prose(`clock ${o.clock} / ${o.divider}, one tick ${formatTimeUs(o.tickUs, 6)}; ${o.tolerance.says}`),
    ...prose(half('one:', o.one)),
    ...prose(half('zero:', o.zero)),
    ...prose(
      `margins: one-half ${formatNumber(o.margins.oneHalf, 3)}, one-difference ${formatNumber(o.margins.oneDifference, 3)}, zero-half ${formatNumber(o.margins.zeroHalf, 3)}`,
    ),
    ...textTable(
      [{ head: 'register' }, { head: 'value', wrap: 24 }, { head: 'for', wrap: 20 }],
      o.settings.map((s) => [
        s.register,
        s.number === undefined
          ? s.value
          : `0x${s.number.toString(16).toUpperCase().padStart(2, '0')} ${s.value}`,
        s.says,
      ]),
      width - 2,
    ).map((l) => `  ${l}`),
    ...textTable(
      [
        { head: 'loaded by the interrupt', wrap: 24 },
        { head: 'one', align: 'right' },
        { head: 'zero', align: 'right' },
        { head: 'for', wrap: 20 },
      ],
      o.loads.map((l) => [l.register, String(l.one), String(l.zero), l.says]),
      width - 2,
    ).map((l) => `  ${l}`),
    ...prose(
      `interrupt ${o.interrupt}, ${formatNumber(o.interruptsPerSecond, 5)} per second at most, about ${formatShare(o.cpuShare, 2)} of the controller (assumed length)`,
    ),
    ...prose(o.because),
    ...prose(`occupies ${o.occupies.join('; ')}`),
    ...o.pinConcerns.flatMap((c) => prose(`note: ${c.finding.sentence}`)),
    `  source of this timer's data: ${o.status}`,
  ]
}

function signed(value: number): string {
  if (Math.abs(value) < 1e-6) return '0'
  return `${value > 0 ? '+' : ''}${formatNumber(value, 3)}`
}

function refusedLines(found: SearchResult, width: number, all: boolean): string[] {
  const lines: string[] = []
  const groups = groupOptions(found.refused)
  // What only a reservation forbids is worth knowing; ticks that do not fit are nobody's choice.
  const reserved = groups.filter((g) => onlyReserved(g.option))
  if (all && groups.length > 0) {
    lines.push('Rejected:')
    for (const g of groups) {
      const way = `- ${TIMER_WAY[g.option.behaviour]}, ${places(g, 2)}, / ${g.option.divider}: ${g.option.refused}`
      lines.push(...wrapText(way, width, '  '))
    }
    lines.push('')
  } else if (groups.length > 0) {
    lines.push(`${groups.length} configurations rejected; --all gives the reasons.`)
    for (const why of new Set(reserved.map((g) => g.option.refused!))) {
      const ways = reserved.filter((g) => g.option.refused === why)
      const list = ways.map((g) => `${TIMER_WAY[g.option.behaviour]} / ${g.option.divider}`).join('; ')
      lines.push(...wrapText(`- ${why}; without that, possible: ${list}`, width, '  '))
    }
    lines.push('')
  }
  if (found.unusableModes.length > 0 && all) {
    lines.push('Modes that look usable and are not:')
    for (const t of found.unusableModes)
      lines.push(...wrapText(`- ${t.timers}: ${t.says}: ${t.why}`, width, '  '))
    lines.push('')
  }
  return lines
}

function evidenceLines(evidence: readonly Statement[], width: number): string[] {
  if (evidence.length === 0) return []
  const lines = ['What the design alone shows:']
  for (const e of evidence) {
    const value = isShown(e) ? `${valueText(e)}; ` : ''
    const [first, ...rest] = wrapText(`${e.clause}: ${value}${e.because}`, width - 10)
    lines.push(`${e.verdict.padEnd(9)} ${first}`, ...rest.map((l) => `${' '.repeat(10)}${l}`))
  }
  return [...lines, '']
}
