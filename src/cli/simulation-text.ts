/** The simulation's report for the terminal. */
import {
  type InterruptReport,
  type OutputReport,
  placeInWords,
  type SimulationReport,
} from '../controller/index.js'
import { formatNumber, formatShare, formatSi, formatTimeUs } from '../units/index.js'

/** Lines for people; figures are those of {@link SimulationReport}. */
export function simulationText(report: SimulationReport): string[] {
  const lines = [
    `${report.chip} at ${formatSi(report.clockHz, 'Hz')}, ${formatTimeUs(report.simulatedUs)} simulated (${report.cycles} cycles)`,
    `Load      ${formatShare(report.load)} of the cycles did work (${formatShare(report.interruptShare)} in interrupts); ${formatShare(report.waitingShare)} only waited in a loop, ${formatShare(report.sleepingShare)} asleep`,
  ]
  for (const output of report.outputs) lines.push(...outputLines(output))
  if (report.interrupts.length > 0) lines.push('', ...interruptTable(report.interrupts))
  const off = report.interruptsOff
  if (off) {
    lines.push(
      `Interrupts were off for at most ${formatTimeUs(off.longestUs)}, at ${formatTimeUs(off.atUs, 7)}: ${off.interrupt === undefined ? `turned off in ${placeInWords(off.by)}` : `${off.interrupt} ran`}`,
    )
  }
  lines.push('', stackLine(report))
  if (report.breaks > 0) lines.push(`Break     ${report.breaks} BREAK instructions, treated as no operation`)
  for (const port of report.serial) {
    const lost = port.overrun + port.whileOff + port.frameErrors
    lines.push(
      `${port.name.padEnd(9)} ${formatNumber(port.baud)} baud, ${port.received} bytes received, ${port.sent} sent${lost > 0 ? `; lost: ${port.overrun} overrun, ${port.whileOff} while off, ${port.frameErrors} framing` : ''}`,
    )
    if (port.text !== '') lines.push(`          sent: ${port.text}`)
  }
  return lines
}

function outputLines(output: OutputReport): string[] {
  const where = output.inverted === undefined ? output.pin : `${output.pin} and ${output.inverted}`
  const by: string = {
    hardware: `made by ${output.peripheral}`,
    software: 'made by instructions, so every delay moves an edge',
    none: output.notModelled === undefined ? 'the firmware never moved it' : output.notModelled[0]!.sentence,
  }[output.madeBy]
  const lines = [`Output    ${output.name} on ${where}: ${output.edges} edges, ${by}`]
  if (output.interrupt !== undefined) {
    const late = `${output.interrupt} began at most ${formatTimeUs(output.worstLatencyUs ?? 0)} after its cause`
    const deadline =
      output.deadlineUs === undefined
        ? ''
        : `; the next came after ${formatTimeUs(output.deadlineUs)} at the soonest`
    lines.push(`          ${late}${deadline}`)
  }
  if (output.missedCompares > 0) {
    lines.push(
      `          ${output.missedCompares} compare values came too late, the first at ${formatTimeUs(output.firstMissedAtUs ?? 0, 7)}`,
    )
  } else if (output.leastSlackUs !== undefined) {
    lines.push(
      `          compare values came at least ${formatTimeUs(output.leastSlackUs)} before it would have been too late`,
    )
  }
  return lines
}

function interruptTable(interrupts: readonly InterruptReport[]): string[] {
  const rows = interrupts.map((i) => [
    i.name,
    String(i.count),
    formatNumber(i.perSecond),
    formatShare(i.share),
    formatTimeUs(i.longestRunUs),
    formatTimeUs(i.worstLatencyUs),
    i.lost > 0 ? String(i.lost) : '',
  ])
  const head = ['Interrupt', 'count', 'per s', 'share', 'longest', 'latest', 'lost']
  const widths = head.map((h, i) => Math.max(h.length, ...rows.map((r) => r[i]!.length)))
  return [head, ...rows].map((r) =>
    r
      .map((cell, i) => (i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!)))
      .join('  ')
      .trimEnd(),
  )
}

function stackLine(report: SimulationReport): string {
  const { stack } = report
  const used = `Stack     ${stack.deepestBytes} of ${stack.ramBytes} bytes of RAM at its deepest`
  if (stack.overflowed) return `${used}: it ran into the program's data`
  return stack.freeBytes === undefined ? used : `${used}, ${stack.freeBytes} bytes left above the data`
}
