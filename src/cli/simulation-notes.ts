/** What a run of the firmware showed that no clause speaks of, one sentence each. */
import type { SimulationReport } from '../controller/index.js'
import { formatTimeUs } from '../units/index.js'
import { placeText } from './simulation-text.js'

/** Faults of the firmware that a builder must hear of although the signal may look sound. */
export function simulationNotes(report: SimulationReport): string[] {
  const notes: string[] = []
  for (const output of report.outputs) {
    if (output.madeBy === 'none') notes.push(`${output.name}: the firmware never moved ${output.pin}`)
    if (output.missedCompares > 0) {
      notes.push(
        `${output.name}: ${count(output.missedCompares, 'compare value')} came too late, the first at ${formatTimeUs(output.firstMissedAtUs ?? 0, 7)}; the counter ran on to its end each time`,
      )
    }
  }
  const { resets, illegalInstructions, outsideMemory, stack } = report
  const [first] = resets.list
  if (first) {
    notes.push(
      `the controller was reset ${resets.count === 1 ? 'once' : `${resets.count} times`}, first at ${formatTimeUs(first.atUs, 7)} in ${placeText(first.by)}: ${first.cause}`,
    )
  }
  if (illegalInstructions.first) {
    notes.push(
      `${count(illegalInstructions.count, 'illegal instruction')}, the first at ${placeText(illegalInstructions.first)}`,
    )
  }
  if (outsideMemory.first) {
    notes.push(
      `${count(outsideMemory.count, 'access', 'accesses')} where the chip has no memory, the first at ${placeText(outsideMemory.first)}`,
    )
  }
  if (stack.overflowed) {
    notes.push(
      `the stack ran into the program's data: ${stack.deepestBytes} of ${stack.ramBytes} bytes of RAM at the deepest`,
    )
  }
  for (const port of report.serial) {
    const lost = port.overrun + port.whileOff + port.frameErrors
    if (lost > 0)
      notes.push(
        `${port.name}: ${count(lost, 'byte')} from outside were lost: ${port.overrun} not fetched in time, ${port.whileOff} while it was off, ${port.frameErrors} framed wrong`,
      )
  }
  return [...notes, ...report.notes]
}

function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`
}
