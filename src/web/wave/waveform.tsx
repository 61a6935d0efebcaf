/** The waveform: pan and zoom, packets written along it, findings stepped through by key, two cursors. */
import { useEffect, useRef, useState } from 'preact/hooks'
import { formatTimeUs } from '../../units/index.js'
import { bitsOf, drawWave, type Palette, type WaveRecord } from './draw.js'
import { lowerBound, pan, type Span, show, zoom } from './view.js'
import './waveform.css'

const HEIGHT = 260

export function Waveform({ record, label }: { record: WaveRecord; label: string }) {
  const canvas = useRef<HTMLCanvasElement>(null)
  const whole = wholeOf(record)
  const [span, setSpan] = useState<Span>(() => openingSpan(record))
  const [cursors, setCursors] = useState<(number | undefined)[]>([undefined, undefined])
  const [under, setUnder] = useState('')
  const [finding, setFinding] = useState(-1)
  const [size, setSize] = useState({ width: 800, height: HEIGHT })
  const drag = useRef<{ x: number; moved: boolean } | undefined>(undefined)

  useEffect(() => {
    setSpan(openingSpan(record))
    setCursors([undefined, undefined])
    setFinding(-1)
  }, [record])

  useEffect(() => {
    const element = canvas.current!
    const measure = () => setSize({ width: element.clientWidth, height: HEIGHT })
    const observer = new ResizeObserver(measure)
    observer.observe(element)
    measure()
    return () => observer.disconnect()
  }, [])

  useEffect(() => {
    const frame = requestAnimationFrame(() => {
      const element = canvas.current
      if (!element) return
      const ratio = devicePixelRatio || 1
      if (element.width !== Math.round(size.width * ratio)) element.width = Math.round(size.width * ratio)
      if (element.height !== Math.round(size.height * ratio)) element.height = Math.round(size.height * ratio)
      const context = element.getContext('2d')!
      context.setTransform(ratio, 0, 0, ratio, 0, 0)
      drawWave(context, record, span, size, paletteOf(element), cursors)
    })
    return () => cancelAnimationFrame(frame)
  }, [record, span, size, cursors])

  // Wheel listeners of the framework are passive; this one must keep the page from scrolling.
  useEffect(() => {
    const element = canvas.current!
    const wheel = (event: WheelEvent) => {
      event.preventDefault()
      // Several come within one frame: each goes on from the one before.
      setSpan((now) =>
        Math.abs(event.deltaX) > Math.abs(event.deltaY)
          ? pan(now, (event.deltaX / size.width) * (now.to - now.from), whole)
          : zoom(now, 1.0015 ** event.deltaY, timeAt(event.offsetX, now, size.width), whole),
      )
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [size, whole.from, whole.to])

  const goToFinding = (step: number) => {
    const { findings } = record
    if (findings.length === 0) return
    const next = (finding + step + findings.length) % findings.length
    setFinding(next)
    setSpan((s) => show(s, findings[next]!.timeUs, 4000, whole))
    setUnder(
      `${findings[next]!.clause}: ${findings[next]!.text}, at ${formatTimeUs(findings[next]!.timeUs, 8)}`,
    )
  }

  const keys = (event: KeyboardEvent) => {
    const width = span.to - span.from
    const middle = (span.from + span.to) / 2
    const acts: Record<string, () => void> = {
      ArrowLeft: () => setSpan(pan(span, -width / 8, whole)),
      ArrowRight: () => setSpan(pan(span, width / 8, whole)),
      ArrowUp: () => setSpan(zoom(span, 0.6, middle, whole)),
      ArrowDown: () => setSpan(zoom(span, 1 / 0.6, middle, whole)),
      Home: () => setSpan(pan(span, whole.from - span.from, whole)),
      End: () => setSpan(pan(span, whole.to - span.to, whole)),
      '0': () => setSpan(whole),
      n: () => goToFinding(1),
      p: () => goToFinding(-1),
      a: () => setCursors([middle, cursors[1]]),
      b: () => setCursors([cursors[0], middle]),
      Escape: () => setCursors([undefined, undefined]),
    }
    const act = acts[event.key]
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    act()
  }

  const measured =
    cursors[0] !== undefined && cursors[1] !== undefined ? Math.abs(cursors[1] - cursors[0]) : undefined
  return (
    <figure class="waveform">
      <canvas
        ref={canvas}
        style={{ height: `${HEIGHT}px` }}
        tabIndex={0}
        role="img"
        aria-label={`${label}. ${record.count} edges, ${record.packetSays.length} packets, ${record.findings.length} findings. Arrow keys move and zoom, n and p step through findings, a and b set cursors.`}
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
              setSpan((s) => pan(s, (-by / size.width) * (s.to - s.from), whole))
              drag.current = { x: event.offsetX, moved: true }
            }
          } else setUnder(whatIsAt(record, timeAt(event.offsetX, span, size.width), span, size.width))
        }}
        onPointerUp={(event) => {
          const start = drag.current
          drag.current = undefined
          if (!start || start.moved) return
          const at = snap(record, timeAt(event.offsetX, span, size.width), span, size.width)
          setCursors(event.shiftKey ? [cursors[0], at] : [at, cursors[1]])
        }}
      />
      <div class="bar">
        <span class="buttons">
          <button type="button" onClick={() => setSpan(zoom(span, 0.5, (span.from + span.to) / 2, whole))}>
            Nearer
          </button>
          <button type="button" onClick={() => setSpan(zoom(span, 2, (span.from + span.to) / 2, whole))}>
            Farther
          </button>
          <button type="button" onClick={() => setSpan(whole)}>
            Whole record
          </button>
          <button type="button" disabled={record.findings.length === 0} onClick={() => goToFinding(1)}>
            Next finding ({record.findings.length})
          </button>
        </span>
        <span class="mono">
          {formatTimeUs(span.to - span.from)} in view
          {measured === undefined ? '' : `, A to B ${formatTimeUs(measured, 7)}`}
        </span>
      </div>
      <figcaption aria-live="polite">
        {under || 'Point at the signal: it says what each bit is. Click sets cursor A, with Shift cursor B.'}
      </figcaption>
    </figure>
  )
}

function timeAt(x: number, span: Span, width: number): number {
  return span.from + (x / width) * (span.to - span.from)
}

function wholeOf(record: WaveRecord): Span {
  const from = record.count > 0 ? record.timesUs[0]! : 0
  const to = record.count > 1 ? record.timesUs[record.count - 1]! : from + 1000
  return { from, to: Math.max(to, from + 1) }
}

/** The first packet, large enough to read its bits. */
function openingSpan(record: WaveRecord): Span {
  const whole = wholeOf(record)
  const start = record.packetStartUs[0]
  if (start === undefined) return { from: whole.from, to: Math.min(whole.to, whole.from + 20_000) }
  return { from: start - 500, to: (record.packetEndUs[0] ?? start + 6000) + 500 }
}

/** The nearest edge within eight pixels, else the time itself. */
function snap(record: WaveRecord, us: number, span: Span, width: number): number {
  const next = lowerBound(record.timesUs, record.count, us)
  const reach = (8 / width) * (span.to - span.from)
  const near = [record.timesUs[next - 1], record.timesUs[next]]
    .filter((t): t is number => t !== undefined && Math.abs(t - us) <= reach)
    .sort((a, b) => Math.abs(a - us) - Math.abs(b - us))
  return near[0] ?? us
}

function whatIsAt(record: WaveRecord, us: number, span: Span, width: number): string {
  const { packetStartUs, packetEndUs, packetSays, packetHex, packetValid } = record
  const index = lowerBound(packetStartUs, packetSays.length, us) - 1
  if (index >= 0 && us <= packetEndUs[index]!) {
    const packet = `${packetHex[index]}: ${packetSays[index]}${packetValid[index] ? '' : ' (not valid)'}`
    if (((packetEndUs[index]! - packetStartUs[index]!) / (span.to - span.from)) * width < 300) return packet
    const bit = bitsOf(record, packetStartUs[index]!, packetEndUs[index]!).find((b) => us < b.toUs)
    return bit ? `${bit.text}. Packet ${packet}` : packet
  }
  const edge = lowerBound(record.timesUs, record.count, us)
  if (edge === 0 || edge >= record.count) return ''
  const half = record.timesUs[edge]! - record.timesUs[edge - 1]!
  const kind = half < 77 ? 'half of a one, part of a preamble' : 'a long interval outside any packet'
  return `${half.toFixed(3)} us at ${formatTimeUs(us, 8)}: ${kind}`
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
  }
}
