/** Everything of a run of the bench on one axis, moved by the same keys as the waveform, and above it the whole run. */
import { useEffect, useMemo, useState } from 'preact/hooks'
import { type ScenarioResult, timelineAxis, timelineSvg } from '../../bench/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { usePinch } from '../parts/pinch.js'
import { useSize, useViewHeight } from '../parts/size.js'
import { TakeFigure } from '../parts/take-figure.js'
import { lastValid } from '../state/consequences.js'
import { pan, type Span, zoom } from '../wave/view.js'
import { BenchOverview } from './bench-overview.js'
import { valuesAtTime } from './bench-values.js'

/** Around what a scenario is about, us. */
const BEFORE_US = 3000
const AFTER_US = 12_000
const HINT = 'Point at the timeline to read its values; Shift and the arrow keys move the reading.'
/** Below the drawing its reading stays in view, px. */
const BELOW = 44
/** Pressed to less, the drawing is scrolled to instead, px. */
const LEAST_HIGH = 380

export function Timeline({ scenario }: { scenario: ScenarioResult }) {
  const { name, timeline, amps, ranUs, signals } = scenario
  const whole = { from: 0, to: ranUs }
  const [span, setSpan] = useState<Span>(whole)
  const [cursorUs, setCursor] = useState<number | undefined>(undefined)
  const [picture, { width }] = useSize<HTMLDivElement>()
  const viewHigh = useViewHeight()
  const [top, setTop] = useState<number | undefined>(undefined)
  useEffect(() => setTop(picture.current!.getBoundingClientRect().top + scrollY), [width, viewHigh])
  const seen = { fromUs: Math.max(0, span.from), toUs: span.to }
  // Drawn at its own size, so that its texts are as large as those beside it.
  const svg = useMemo(
    () =>
      width === 0 || top === undefined
        ? undefined
        : timelineSvg(scenario, seen, { width, height: Math.max(LEAST_HIGH, viewHigh - top - BELOW) }),
    [scenario, span, width, top, viewHigh],
  )
  const axis = timelineAxis(width || undefined)
  const url = useMemo(() => svg && URL.createObjectURL(new Blob([svg], { type: 'image/svg+xml' })), [svg])
  useEffect(() => () => void (url && URL.revokeObjectURL(url)), [url])
  const fault = timeline.find((e) => e.kind === 'short' || e.kind === 'restart')
  const most = Math.max(0, ...[...amps.values()].flatMap((list) => list.map((p) => p.amp)))
  const says = `${name}: current of ${[...amps.keys()].join(', ')} over ${formatTimeUs(ranUs, 3)}, at most ${formatNumber(most, 3)} A in one of them; ${timeline.length} events`
  const wide = span.to - span.from
  const middle = (span.from + span.to) / 2
  // What the drawing shows begins with the run.
  const fromUs = Math.max(0, span.from)
  const shownUs = span.to - fromUs
  const timeUnder = (event: { clientX: number }) => {
    const { left } = picture.current!.getBoundingClientRect()
    return fromUs + ((event.clientX - left - axis.from) / (axis.to - axis.from)) * shownUs
  }
  // Wheel listeners of the framework are passive; this one must keep the page from scrolling.
  useEffect(() => {
    const element = picture.current!
    const wheel = (event: WheelEvent) => {
      event.preventDefault()
      const { left, width } = element.getBoundingClientRect()
      const { from, to } = timelineAxis(width)
      const share = Math.min(1, Math.max(0, (event.clientX - left - from) / (to - from)))
      setSpan((now) =>
        Math.abs(event.deltaX) > Math.abs(event.deltaY)
          ? pan(now, (event.deltaX / (to - from)) * (now.to - now.from), whole)
          : zoom(now, 1.0015 ** event.deltaY, now.from + share * (now.to - now.from), whole),
      )
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [ranUs])
  usePinch(picture, (factor, middle, moved) => {
    const { left, width } = picture.current!.getBoundingClientRect()
    const { from, to } = timelineAxis(width)
    const share = Math.min(1, Math.max(0, (middle.x - left - from) / (to - from)))
    setSpan((now) => {
      const next = zoom(now, 1 / factor, now.from + share * (now.to - now.from), whole)
      return pan(next, (-moved.x / (to - from)) * (next.to - next.from), whole)
    })
  })
  const moveCursor = (share: number) => {
    const to = (cursorUs ?? middle) + share * wide
    setCursor(Math.min(span.to, ranUs, Math.max(fromUs, to)))
  }
  const keys = (event: KeyboardEvent) => {
    const acts: Record<string, () => void> = {
      ArrowLeft: () => (event.shiftKey ? moveCursor(-0.01) : setSpan(pan(span, -wide / 8, whole))),
      ArrowRight: () => (event.shiftKey ? moveCursor(0.01) : setSpan(pan(span, wide / 8, whole))),
      ArrowUp: () => setSpan(zoom(span, 0.6, cursorUs ?? middle, whole)),
      ArrowDown: () => setSpan(zoom(span, 1 / 0.6, cursorUs ?? middle, whole)),
      Home: () => setSpan(pan(span, -span.from, whole)),
      End: () => setSpan(pan(span, whole.to - span.to, whole)),
      '+': () => setSpan(zoom(span, 0.6, middle, whole)),
      '-': () => setSpan(zoom(span, 1 / 0.6, middle, whole)),
      '0': () => setSpan(whole),
      Escape: () => setCursor(undefined),
    }
    const act = acts[event.key]
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    act()
  }
  const cursorAt = cursorUs === undefined ? undefined : (cursorUs - fromUs) / shownUs
  return (
    <figure class="coupled">
      <div class="switch" role="group" aria-label="Time in view">
        <button type="button" onClick={() => setSpan(zoom(span, 0.5, middle, whole))}>
          Zoom in
        </button>
        <button type="button" onClick={() => setSpan(zoom(span, 2, middle, whole))}>
          Zoom out
        </button>
        <button type="button" onClick={() => setSpan(whole)}>
          Whole run
        </button>
        {fault && (
          <button
            type="button"
            onClick={() =>
              setSpan({ from: Math.max(0, fault.timeUs - BEFORE_US), to: fault.timeUs + AFTER_US })
            }
          >
            Around the {fault.kind}
          </button>
        )}
        <span class="mono">{formatTimeUs(wide)} in view</span>
      </div>
      <BenchOverview
        scenario={scenario}
        span={span}
        goTo={(us) => setSpan((now) => pan(now, us - (now.from + now.to) / 2, whole))}
      />
      <div class="wide" tabIndex={0} role="group" aria-label="Timeline" onKeyDown={keys}>
        <div
          class="timeline-picture"
          ref={picture}
          onPointerMove={(event) => {
            const us = timeUnder(event)
            setCursor(us >= fromUs && us <= Math.min(span.to, ranUs) ? us : undefined)
          }}
          onPointerLeave={() => setCursor(undefined)}
        >
          {url && <img src={url} alt={says} />}
          {cursorAt !== undefined && cursorAt >= 0 && cursorAt <= 1 && (
            <span
              class="reading-line"
              style={{ left: `${axis.from + (axis.to - axis.from) * cursorAt}px` }}
            />
          )}
        </div>
      </div>
      <p class="timeline-values" aria-live="polite">
        {cursorUs === undefined ? <span class="quiet">{HINT}</span> : valuesAtTime(signals, cursorUs)}
      </p>
      <figcaption>
        <span>
          {says}. <span class="quiet">Arrow keys and + and − move it; all events are listed below.</span>
        </span>
        <TakeFigure
          name={`bench-${name.replace(/\W+/g, '-')}`}
          title={`Bench, ${name}`}
          caption={`${says}. Source: firmware of ${lastValid.value?.facts?.name ?? 'the design'} on the simulated bench, by Halfbit.`}
          svg={() => timelineSvg(scenario, seen)}
        />
      </figcaption>
    </figure>
  )
}
