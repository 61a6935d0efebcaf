/** The waveform: pan and zoom, packets written along it, bits and findings stepped through by key, two cursors. */
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks'
import { voltAt } from '../../capture/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { schemeColours } from '../parts/page-svg.js'
import { usePinch } from '../parts/pinch.js'
import { TakeFigure } from '../parts/take-figure.js'
import { lastValid } from '../state/consequences.js'
import { wantedTime } from '../state/runs.js'
import { chosenFinding } from '../state/selection.js'
import { drawWave, leastHeightOf, type Palette } from './draw.js'
import { Overview } from './findings.js'
import { Measured } from './measured.js'
import { grainUs, type Place, placeAt, stepFrom, voltWords, type WaveRecord } from './record.js'
import { SvgContext } from './svg-context.js'
import { lowerBound, pan, type Span, show, zoom } from './view.js'
import './waveform.css'

/** Waits for the hand to rest before it reads the file again. */
const REST_MS = 120

interface WaveformProps {
  record: WaveRecord
  label: string
  /** Its name is beside it already. */
  isNamed: boolean
  /** Reads a stretch of the file again, edge by edge. */
  nearer?: ((fromUs: number, toUs: number) => Promise<WaveRecord | undefined>) | undefined
}

export function Waveform({ record, label, isNamed, nearer }: WaveformProps) {
  const canvas = useRef<HTMLCanvasElement>(null)
  const whole = wholeOf(record)
  const [span, setSpan] = useState<Span>(() => openingSpan(record))
  const [cursors, setCursors] = useState<(number | undefined)[]>([undefined, undefined])
  const [place, setPlace] = useState<Place | undefined>(undefined)
  const [under, setUnder] = useState('')
  const [{ width, height }, setSize] = useState({ width: 800, height: leastHeightOf(record) })
  const [near, setNear] = useState<{ span: Span; record: WaveRecord } | undefined>(undefined)
  const [nearFault, setNearFault] = useState('')
  const [palette, setPalette] = useState<Palette | undefined>(undefined)
  const drag = useRef<{ x: number; moved: boolean } | undefined>(undefined)
  const shown = near && near.span.from <= span.from && near.span.to >= span.to ? near.record : undefined
  const seen = shown ?? record

  useEffect(() => {
    setSpan(openingSpan(record))
    setCursors([undefined, undefined])
    chosenFinding.value = undefined
    setPlace(undefined)
    setUnder('')
    setNear(undefined)
    setNearFault('')
  }, [record])

  useEffect(() => {
    const element = canvas.current!
    const measure = () => setSize({ width: element.clientWidth, height: element.clientHeight })
    const observer = new ResizeObserver(measure)
    observer.observe(element)
    measure()
    const night = matchMedia('(prefers-color-scheme: dark)')
    const colours = () => setPalette(paletteOf(element))
    night.addEventListener('change', colours)
    colours()
    return () => {
      observer.disconnect()
      night.removeEventListener('change', colours)
    }
  }, [])

  // Someone asked for the place of a statement.
  useEffect(() => {
    const at = wantedTime.value
    if (at === undefined) return
    wantedTime.value = undefined
    setSpan(show(wholeOf(record), at, 4000, wholeOf(record)))
    setCursors([at, undefined])
  }, [record, wantedTime.value])

  // In the frame that shows the change, not the one after it; one that waits draws what is newest by then.
  const draw = useRef<(() => void) | undefined>(undefined)
  const frame = useRef(0)
  useLayoutEffect(() => {
    draw.current = () => {
      const element = canvas.current
      if (!element || !palette) return
      const began = performance.now()
      const ratio = devicePixelRatio || 1
      if (element.width !== Math.round(width * ratio)) element.width = Math.round(width * ratio)
      if (element.height !== Math.round(height * ratio)) element.height = Math.round(height * ratio)
      const context = element.getContext('2d', { alpha: false })!
      context.setTransform(ratio, 0, 0, ratio, 0, 0)
      drawWave(context, record, shown, span, { width, height }, palette, { cursors, place })
      // For whoever watches how long a frame takes; nothing is kept.
      performance.measure('halfbit-draw', { start: began })
      performance.clearMeasures('halfbit-draw')
    }
    if (frame.current !== 0) return
    frame.current = requestAnimationFrame(() => {
      frame.current = 0
      draw.current?.()
    })
  }, [record, shown, span, width, height, cursors, place, palette])
  useEffect(() => () => cancelAnimationFrame(frame.current), [])

  // Nearer than what is kept: that stretch is read from the file again.
  const isCoarse = nearer !== undefined && !shown && (span.to - span.from) / width < grainUs(record) * 2
  useEffect(() => {
    if (!isCoarse || !nearer) return
    const around = { from: span.from - (span.to - span.from), to: span.to + (span.to - span.from) }
    let wanted = true
    const timer = setTimeout(async () => {
      try {
        const found = await nearer(around.from, around.to)
        if (wanted && found) setNear({ span: around, record: found })
      } catch (error) {
        if (wanted) setNearFault(error instanceof Error ? error.message : String(error))
      }
    }, REST_MS)
    return () => {
      wanted = false
      clearTimeout(timer)
    }
  }, [isCoarse, nearer, span])

  // Wheel listeners of the framework are passive; this one must keep the page from scrolling.
  useEffect(() => {
    const element = canvas.current!
    const wheel = (event: WheelEvent) => {
      event.preventDefault()
      // Several come within one frame: each goes on from the one before.
      setSpan((now) =>
        Math.abs(event.deltaX) > Math.abs(event.deltaY)
          ? pan(now, (event.deltaX / width) * (now.to - now.from), whole)
          : zoom(now, 1.0015 ** event.deltaY, timeAt(event.offsetX, now, width), whole),
      )
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [width, whole.from, whole.to])

  usePinch(canvas, (factor, middle, moved) => {
    drag.current = undefined
    const at = middle.x - canvas.current!.getBoundingClientRect().x
    setSpan((now) => {
      const next = zoom(now, 1 / factor, timeAt(at, now, width), whole)
      return pan(next, (-moved.x / width) * (next.to - next.from), whole)
    })
  })

  const goToFinding = (step: number) => {
    const { findings } = record
    if (findings.length === 0) return
    const at = chosenFinding.value ? findings.indexOf(chosenFinding.value) : step > 0 ? -1 : 0
    chosenFinding.value = findings[(at + step + findings.length) % findings.length]
  }

  // Chosen here or in the list.
  const finding = chosenFinding.value
  useEffect(() => {
    if (!finding) return
    const at = record.findings.indexOf(finding)
    if (at < 0) return
    const { timeUs, clause, text } = finding
    setSpan((s) => show(s, timeUs, 4000, whole))
    setPlace(placeAt(seen, timeUs))
    setUnder(
      `Finding ${at + 1} of ${record.findings.length}. ${clause}: ${text}, at ${formatTimeUs(timeUs, 8)}`,
    )
  }, [finding, record])

  const volts = (us: number | undefined) => {
    const volt = us === undefined || !seen.volts ? undefined : voltAt(seen.volts, us)
    return volt && { ...volt, words: voltWords(volt, seen.voltUnit) }
  }

  const readAt = (us: number, found: Place | undefined) => {
    const volt = volts(us)?.words
    setPlace(found)
    setUnder(`${found ? `${found.says}. ` : ''}${formatTimeUs(us, 8)}${volt ? `, ${volt}` : ''}`)
  }

  const goToBit = (by: 1 | -1) => {
    const inView = place && place.toUs > span.from && place.fromUs < span.to
    const found = inView
      ? stepFrom(seen, (place.fromUs + place.toUs) / 2, by)
      : placeAt(seen, (span.from + span.to) / 2)
    if (!found) return
    const centre = (found.fromUs + found.toUs) / 2
    // Inside its first half: in the middle it crosses zero.
    readAt((3 * found.fromUs + found.toUs) / 4, found)
    // Large enough to be seen, and not at the rim.
    setSpan((s) => {
      const close = Math.min(s.to - s.from, Math.max((found.toUs - found.fromUs) * 40, 4000))
      const inside = found.fromUs > s.from && found.toUs < s.to && close === s.to - s.from
      return inside ? s : { from: centre - close / 2, to: centre + close / 2 }
    })
  }

  const keys = (event: KeyboardEvent) => {
    const wide = span.to - span.from
    const middle = (span.from + span.to) / 2
    const here = place && place.fromUs >= span.from && place.fromUs <= span.to ? place.fromUs : middle
    const acts: Record<string, () => void> = {
      ArrowLeft: () => (event.shiftKey ? goToBit(-1) : setSpan(pan(span, -wide / 8, whole))),
      ArrowRight: () => (event.shiftKey ? goToBit(1) : setSpan(pan(span, wide / 8, whole))),
      ArrowUp: () => setSpan(zoom(span, 0.6, place ? here : middle, whole)),
      ArrowDown: () => setSpan(zoom(span, 1 / 0.6, middle, whole)),
      Home: () => setSpan(pan(span, whole.from - span.from, whole)),
      End: () => setSpan(pan(span, whole.to - span.to, whole)),
      '+': () => setSpan(zoom(span, 0.6, place ? here : middle, whole)),
      '-': () => setSpan(zoom(span, 1 / 0.6, middle, whole)),
      '0': () => setSpan(whole),
      n: () => goToFinding(1),
      p: () => goToFinding(-1),
      a: () => setCursors([here, cursors[1]]),
      b: () => setCursors([cursors[0], here]),
      Escape: () => {
        setCursors([undefined, undefined])
        setPlace(undefined)
      },
    }
    const act = acts[event.key]
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    act()
  }

  const [a, b] = cursors
  const isTouched = matchMedia('(pointer: coarse)').matches
  return (
    <figure class="waveform">
      <div class="bar">
        <h3 class={isNamed ? 'unseen' : undefined}>{label}</h3>
        <span class="buttons">
          <button type="button" onClick={() => setSpan(zoom(span, 0.5, (span.from + span.to) / 2, whole))}>
            Zoom in
          </button>
          <button type="button" onClick={() => setSpan(zoom(span, 2, (span.from + span.to) / 2, whole))}>
            Zoom out
          </button>
          <button type="button" onClick={() => setSpan(whole)}>
            Whole record
          </button>
          <button type="button" onClick={() => goToBit(-1)}>
            Previous bit
          </button>
          <button type="button" onClick={() => goToBit(1)}>
            Next bit
          </button>
        </span>
        <span class="mono">{formatTimeUs(span.to - span.from)} in view</span>
      </div>
      <Overview
        record={record}
        whole={whole}
        span={span}
        goTo={(us) => setSpan((s) => ({ from: us - (s.to - s.from) / 2, to: us + (s.to - s.from) / 2 }))}
      />
      {/* biome-ignore lint/a11y/noInteractiveElementToNoninteractiveRole: a drawing that is moved by keys */}
      <canvas
        ref={canvas}
        style={{ minHeight: `${leastHeightOf(record)}px` }}
        tabIndex={0}
        role="application"
        aria-roledescription="waveform"
        aria-label={`${label}. ${record.edges} edges, ${record.packets} packets, ${record.findings.length} findings${record.at ? `, ${formatNumber(record.at.lowVolt, 3)} V to ${formatNumber(record.at.highVolt, 3)} V` : ''}. Arrow keys move and zoom, with Shift they step from bit to bit; n and p step through findings, a and b set cursors.`}
        onKeyDown={keys}
        onPointerDown={(event) => {
          drag.current = { x: event.offsetX, moved: false }
          ;(event.currentTarget as HTMLElement).setPointerCapture(event.pointerId)
        }}
        onPointerMove={(event) => {
          const start = drag.current
          if (start) {
            const by = event.offsetX - start.x
            if (Math.abs(by) > 2 || start.moved) {
              setSpan((s) => pan(s, (-by / width) * (s.to - s.from), whole))
              drag.current = { x: event.offsetX, moved: true }
            }
          } else {
            const us = timeAt(event.offsetX, span, width)
            readAt(us, placeAt(seen, us))
          }
        }}
        onPointerUp={(event) => {
          const start = drag.current
          drag.current = undefined
          if (!start || start.moved) return
          const at = snap(seen, timeAt(event.offsetX, span, width), span, width)
          if (event.pointerType !== 'touch') return setCursors(event.shiftKey ? [a, at] : [at, b])
          // A finger has no Shift, and points at nothing before it touches.
          setCursors(a === undefined || b !== undefined ? [at, undefined] : [a, at])
          const us = timeAt(event.offsetX, span, width)
          readAt(us, placeAt(seen, us))
        }}
      />
      <div class="readings">
        {a === undefined && b === undefined ? (
          <p class="quiet">
            {isTouched
              ? 'A tap reads a bit and sets cursor A, the next tap cursor B.'
              : 'Click sets cursor A, Shift and click cursor B.'}
          </p>
        ) : (
          <Measured a={a} b={b} record={seen} volts={volts} />
        )}
        <figcaption aria-live="polite">
          {under ||
            (!isTouched &&
              'Point at the signal to read each bit; with the keyboard, Shift and the arrow keys step from bit to bit.')}
        </figcaption>
        {isCoarse && !nearFault && <p class="quiet">Reading this stretch of the file again …</p>}
        {nearFault && <p class="notice">This stretch cannot be read again: {nearFault}</p>}
      </div>
      <TakeFigure
        name="waveform"
        title={label}
        caption={`${label}, ${formatTimeUs(span.from, 7)} to ${formatTimeUs(span.to, 7)}. Source: ${lastValid.value?.facts?.name ?? 'the design'}, read by Halfbit.`}
        svg={(scheme) => {
          const colour = schemeColours(scheme)
          const drawn = new SvgContext()
          drawWave(
            drawn as unknown as CanvasRenderingContext2D,
            record,
            shown,
            span,
            { width, height },
            {
              ink: colour('ink'),
              quiet: colour('quiet'),
              rule: colour('rule'),
              signal: colour('signal'),
              blue: colour('blue'),
              broken: colour('broken'),
              sheet: colour('sheet'),
              met: colour('met'),
              metSoft: colour('met-soft'),
            },
            { cursors, place },
          )
          return drawn.svg(width, height, label)
        }}
      />
    </figure>
  )
}

function timeAt(x: number, span: Span, width: number): number {
  return span.from + (x / width) * (span.to - span.from)
}

function wholeOf(record: WaveRecord): Span {
  const { timesUs, lastUs, count } = record
  const from = count > 0 ? timesUs[0]! : 0
  const to = count > 1 ? (lastUs ?? timesUs)[count - 1]! : from + 1000
  return { from, to: Math.max(to, from + 1) }
}

/** The first packet, large enough to read its bits. */
function openingSpan(record: WaveRecord): Span {
  const whole = wholeOf(record)
  const start = record.packetStartUs[0]!
  if (record.packets === 0) return { from: whole.from, to: Math.min(whole.to, whole.from + 20_000) }
  return { from: start - 2200, to: record.packetEndUs[0]! + 500 }
}

/** The nearest edge within eight pixels, else the time itself. */
function snap(record: WaveRecord, us: number, span: Span, width: number): number {
  const next = lowerBound(record.timesUs, record.count, us)
  const reach = (8 / width) * (span.to - span.from)
  const near = [next - 1, next]
    .filter((i) => i >= 0 && i < record.count)
    .map((i) => record.timesUs[i]!)
    .filter((t) => Math.abs(t - us) <= reach)
    .sort((a, b) => Math.abs(a - us) - Math.abs(b - us))
  return near[0] ?? us
}

function paletteOf(element: HTMLElement): Palette {
  const style = getComputedStyle(element)
  const get = (name: string) => style.getPropertyValue(`--${name}`).trim()
  return {
    ink: get('ink'),
    quiet: get('quiet'),
    rule: get('rule'),
    signal: get('signal'),
    blue: get('blue'),
    broken: get('broken'),
    sheet: get('sheet'),
    met: get('met'),
    metSoft: get('met-soft'),
  }
}
