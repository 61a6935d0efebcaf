/** A run of the bench as VCD for general viewers: pins, power and volts as they are, currents and speeds as real numbers (IEEE 1364). */
import { type MadeBy, madeBySentence } from '../../capture/index.js'
import type { ScenarioResult } from '../scenario/result.js'

/** Times in a VCD file are whole; a nanosecond is finer than a cycle. */
const NS_PER_US = 1000

interface Variable {
  name: string
  scope: string
  kind: 'wire' | 'real' | 'string'
  /** In the order of time; values as VCD writes them, without the code. */
  changes: { timeUs: number; value: string }[]
}

export function timelineVcd({ name, signals }: ScenarioResult, madeBy: MadeBy): string {
  const variables = variablesOf(signals)
  const codes = variables.map((_, i) => codeOf(i))
  const lines = [
    `$comment scenario "${plain(name)}" on the bench, ${plain(madeBySentence(madeBy))} $end`,
    '$timescale 1 ns $end',
  ]
  for (const scope of [...new Set(variables.map((v) => v.scope))]) {
    lines.push(`$scope module ${scope} $end`)
    for (const [i, v] of variables.entries())
      if (v.scope === scope) {
        const type = v.kind === 'wire' ? 'wire 1' : v.kind === 'real' ? 'real 64' : 'string 1'
        lines.push(`$var ${type} ${codes[i]} ${word(v.name)} $end`)
      }
    lines.push('$upscope $end')
  }
  lines.push('$enddefinitions $end')
  const changes = variables
    .flatMap((v, i) =>
      v.changes.map((c) => ({ ns: Math.round(c.timeUs * NS_PER_US), text: textOf(v, c.value, codes[i]!) })),
    )
    .sort((a, b) => a.ns - b.ns)
  let at = -1
  for (const { ns, text } of changes) {
    if (ns !== at) lines.push(`#${ns}`)
    at = ns
    lines.push(text)
  }
  const endNs = Math.round(signals.endUs * NS_PER_US)
  if (endNs > at) lines.push(`#${endNs}`)
  return `${lines.join('\n')}\n`
}

function variablesOf({ analog, states, packets, pins, serial }: ScenarioResult['signals']): Variable[] {
  const outputs = [...new Set(packets.map((p) => p.output))]
  const districts = states.filter((s) => s.states.every(({ state }) => state === 'on' || state === 'off'))
  return [
    ...pins.map((p): Variable => {
      return {
        name: p.name,
        scope: 'pins',
        kind: 'wire',
        changes: p.edges.map((e) => ({ timeUs: e.timeUs, value: String(e.level) })),
      }
    }),
    ...districts.map((s): Variable => {
      const changes = s.states.map(({ timeUs, state }) => ({ timeUs, value: state === 'on' ? '1' : '0' }))
      return { name: `${s.name}_on`, scope: 'power', kind: 'wire', changes }
    }),
    ...analog.map((a): Variable => {
      const changes = a.points.map(({ timeUs, value }) => ({ timeUs, value: String(value) }))
      const unit = a.unit === 'A' ? 'amp' : a.unit === 'V' ? 'volt' : 'speed'
      return {
        name: `${a.name}_${unit}`,
        scope: a.unit === 'share' ? 'trains' : 'power',
        kind: 'real',
        changes: changes[0]?.timeUs === 0 ? changes : [{ timeUs: 0, value: '0' }, ...changes],
      }
    }),
    ...outputs.map((output): Variable => {
      const own = packets.filter((p) => p.output === output)
      return {
        name: output,
        scope: 'packets',
        kind: 'string',
        changes: own.map((p) => ({ timeUs: p.endUs, value: p.says })),
      }
    }),
    ...(['outside', 'station'] as const).map((from): Variable => {
      const own = serial.filter((s) => s.from === from)
      return {
        name: from === 'outside' ? 'in' : 'out',
        scope: 'serial',
        kind: 'string',
        changes: own.map((s) => ({ timeUs: s.timeUs, value: s.text })),
      }
    }),
  ]
}

function textOf({ kind }: Variable, value: string, code: string): string {
  if (kind === 'wire') return `${value}${code}`
  return kind === 'real' ? `r${value} ${code}` : `s${word(value)} ${code}`
}

/** Printable codes of one letter, then two: `!`, `"`, … */
function codeOf(i: number): string {
  return i < 94 ? String.fromCharCode(33 + i) : codeOf(Math.floor(i / 94) - 1) + codeOf(i % 94)
}

/** Names and strings end at a blank. */
function word(text: string): string {
  return text.replace(/[^\x21-\x7e]+/g, '_') || '_'
}

/** Nothing may end a comment early. */
function plain(text: string): string {
  return text.replace(/\$/g, ' ')
}
