/** How late the interrupt that feeds an output began, within the time of one bit, and each late one with what it waited for. */
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { go } from '../state/route.js'
import { chosenReading, lastRun, readings, wantedTime } from '../state/runs.js'

interface Feeding {
  interrupt: string
  count: number
  meanUs: number
  worstUs: number
  /** From one request to the next. */
  deadlineUs: number
  /** It may begin this late; undefined where no compare value is loaded in time. */
  allowedUs: number | undefined
  late: { atUs: number; lateUs: number; waitedFor?: string }[]
  /** Counted and not listed, of all interrupts. */
  more: number
}

/** Of the last run; undefined where none was run or no interrupt feeds the output. */
export function feedingOf(output: string): Feeding | undefined {
  const report = lastRun.value?.report
  const made = report?.outputs.find((o) => o.name === output)
  const interrupt = report?.interrupts.find((i) => i.name === made?.interrupt)
  if (!report || !made || !interrupt || made.deadlineUs === undefined) return undefined
  const late = report.lateInterrupts
  return {
    interrupt: interrupt.name,
    count: interrupt.count,
    meanUs: interrupt.meanLatencyUs,
    worstUs: interrupt.worstLatencyUs,
    deadlineUs: made.deadlineUs,
    allowedUs: made.leastSlackUs === undefined ? undefined : interrupt.worstLatencyUs + made.leastSlackUs,
    late: late.list.filter((l) => l.interrupt === interrupt.name),
    more: late.count - late.list.length,
  }
}

interface StripProps {
  feeding: Feeding
  left: number
  right: number
  top: number
  /** Its sentences are below each other. */
  isPhone: boolean
}

export function LateStrip({ feeding, left, right, top: head, isPhone }: StripProps) {
  const { interrupt, count, meanUs, worstUs, deadlineUs, allowedUs, late } = feeding
  const top = isPhone ? head + 16 : head
  const x = (us: number) => left + (Math.min(us, deadlineUs) / deadlineUs) * (right - left - 70)
  const slack = allowedUs === undefined ? undefined : allowedUs - worstUs
  const marks = [...new Set(late.map(({ lateUs }) => Math.round(x(lateUs) * 2) / 2))]
  return (
    <g>
      <text x={left} y={head}>
        <tspan class="strong">Late interrupts</tspan>
        <tspan class="quiet-text" {...(isPhone ? { x: left, dy: 16 } : { dx: 8 })}>
          {interrupt}, {formatNumber(count, 9)} times; within one bit of {formatTimeUs(deadlineUs, 4)}
        </tspan>
      </text>
      <rect class="frame" x={left} y={top + 10} width={x(deadlineUs) - left} height="18" />
      {allowedUs !== undefined && (
        <rect
          class="room"
          x={x(worstUs)}
          y={top + 10}
          width={Math.max(0, x(allowedUs) - x(worstUs))}
          height="18"
        />
      )}
      <rect class="late-worst" x={left} y={top + 10} width={Math.max(2, x(worstUs) - left)} height="18" />
      <rect class="late-mean" x={left} y={top + 10} width={Math.max(1.5, x(meanUs) - left)} height="18" />
      {marks.map((at) => (
        <line class="late-mark" x1={at} x2={at} y1={top + 6} y2={top + 32} />
      ))}
      {slack !== undefined && slack > 0 && x(allowedUs!) - x(worstUs) > 180 && (
        <text x={(x(worstUs) + x(allowedUs!)) / 2} y={top + 23} text-anchor="middle" class="room-text">
          {formatTimeUs(slack, 4)} to spare after the latest
        </text>
      )}
      {allowedUs !== undefined && (
        <line class="may-start" x1={x(allowedUs)} x2={x(allowedUs)} y1={top + 6} y2={top + 32} />
      )}
      <text x={left} y={top + 44} class="late-text">
        begins {formatTimeUs(meanUs, 3)} late on average, {formatTimeUs(worstUs, 3)} at the latest;{' '}
        {late.length} held up
      </text>
      {allowedUs !== undefined && (
        <text
          x={isPhone ? left : x(deadlineUs)}
          y={isPhone ? top + 60 : top + 44}
          text-anchor={isPhone ? 'start' : 'end'}
          class="broken-text"
        >
          may begin {formatTimeUs(allowedUs, 4)} late
        </text>
      )}
      <text x={x(deadlineUs) + 6} y={top + 23} class="quiet-text">
        bit ends
      </text>
    </g>
  )
}

/** Every late interrupt, worst first, each with its place in the waveform. */
export function LateList({ output }: { output: string }) {
  const feeding = feedingOf(output)
  if (!feeding || feeding.late.length === 0) return null
  const reading = readings.value.find((r) => r.key === `firmware ${output}`)
  const worst = [...feeding.late].sort((a, b) => b.lateUs - a.lateUs)
  return (
    <details class="late-list">
      <summary>
        {worst.length === 1 ? 'One late interrupt' : `${worst.length} late interrupts`}, and what they waited
        for
      </summary>
      <ol class="plain-list">
        {worst.map(({ atUs, lateUs, waitedFor }) => (
          <li>
            <span class="mono">{formatTimeUs(atUs, 8)}</span> {formatTimeUs(lateUs, 3)} late, waited for{' '}
            {waitedFor ?? 'instructions that had turned interrupts off'}{' '}
            {reading && (
              <button
                type="button"
                class="link"
                onClick={() => {
                  chosenReading.value = reading.key
                  wantedTime.value = atUs
                  go('waveform')
                }}
              >
                Show it in the waveform<span class="unseen">: {formatTimeUs(atUs, 8)}</span>
              </button>
            )}
          </li>
        ))}
      </ol>
      {feeding.more > 0 && <p class="quiet">{feeding.more} later ones are counted and not listed.</p>}
    </details>
  )
}
