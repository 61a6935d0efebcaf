/** Drives a run of the firmware: shows its progress and ends it at Ctrl-C. */
import { setImmediate } from 'node:timers/promises'
import { type FirmwareRequest, type FirmwareRun, firmwareRun, type PinnedOutput } from '../proof/index.js'
import { formatTimeUs } from '../units/index.js'
import type { Io } from './command.js'

/**
 * @param onSettled all edges before this tick have been handed on.
 * @throws InputError when a pin is not the chip's or the image does not fit.
 */
export async function runFirmware<O extends PinnedOutput>(
  request: FirmwareRequest<O>,
  io: Pick<Io, 'progress'> & { signal: { readonly aborted: boolean } },
  onSettled?: (tick: number) => void,
): Promise<FirmwareRun<O>> {
  const steps = firmwareRun(request)
  const started = performance.now()
  let step = steps.next()
  while (!step.done) {
    const { tick, simulatedUs } = step.value
    onSettled?.(tick)
    const speed = simulatedUs / 1000 / Math.max(performance.now() - started, 1e-3)
    io.progress(progressText(simulatedUs, request.forUs, speed))
    // Lets Ctrl-C through.
    await setImmediate()
    step = steps.next(io.signal.aborted)
  }
  io.progress('')
  return step.value
}

const BAR = 24

/** Bar, simulated time and speed on one line. */
function progressText(us: number, forUs: number, speed: number): string {
  const done = Math.round((BAR * us) / forUs)
  const bar = '#'.repeat(done) + '.'.repeat(BAR - done)
  return `[${bar}] ${formatTimeUs(us)} of ${formatTimeUs(forUs)} simulated, ${speed.toFixed(1)} times real time`
}
