/** A drawing made by a room, shown as an image of its own; a chart says its values under the pointer and by key. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import { type ChartData, valuesAt, xAt } from '../../plot/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import type { Figure } from '../worker/calls.js'
import { useFigureZoom, zoomIn, zoomKey, zoomOut } from './figure-zoom.js'
import { TakeFigure } from './take-figure.js'

const STEP = 0.01
/** From this share of its own size on, a figure gains nothing by being enlarged. */
const NEARLY_FULL = 0.95

export function Drawing({ figure, source }: { figure: Figure; source: string }) {
  // As an image it keeps its own styles under the page's policy, and follows light and dark by itself.
  const url = useMemo(
    () => URL.createObjectURL(new Blob([figure.svg], { type: 'image/svg+xml' })),
    [figure.svg],
  )
  useEffect(() => () => URL.revokeObjectURL(url), [url])
  const chart = useMemo(() => chartOf(figure.svg), [figure.svg])
  // Share of the chart's width that is read; undefined where nobody points.
  const [share, setShare] = useState<number | undefined>(undefined)
  const says = /<desc[^>]*>([^<]*)</.exec(figure.svg)?.[1]?.replace(/&amp;/g, '&').replace(/&lt;/g, '<') ?? ''
  const width = Number(/ width="(\d+)/.exec(figure.svg)?.[1] ?? 800)
  const height = Number(/ height="(\d+)/.exec(figure.svg)?.[1] ?? 400)
  const image = useRef<HTMLImageElement>(null)
  const frame = useRef<HTMLDivElement>(null)
  const fitted = useFittedShare(image, width)
  const zoom = useFigureZoom(frame, image, width)
  const reading = chart && {
    onPointerMove: (event: PointerEvent) => {
      const image = (event.currentTarget as Element).querySelector('img')!.getBoundingClientRect()
      const { left, right } = chart.box
      const at = ((event.clientX - image.left) / image.width) * chart.width
      setShare(at < left || at > right ? undefined : (at - left) / (right - left))
    },
    onPointerLeave: () => setShare(undefined),
  }
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return
    if (isLarge && zoomKey(zoom, event.key)) return event.preventDefault()
    const step = chart && { ArrowLeft: -STEP, ArrowRight: STEP }[event.key]
    if (step === undefined) return
    event.preventDefault()
    setShare((s) => Math.min(1, Math.max(0, (s ?? 0.5 - step) + step)))
  }
  const line = chart && share !== undefined ? (100 * (chart.box.left + share * (chart.box.right - chart.box.left))) / chart.width : undefined // biome-ignore format: one figure
  const isLarge = fitted < NEARLY_FULL
  const { places } = figure
  const [place, setPlace] = useState('')
  useEffect(() => {
    if (!zoom.canOut) setPlace('')
  }, [zoom.canOut])
  const goTo = (value: string) => {
    const found = value === '' ? undefined : places?.[Number(value)]
    setPlace(found ? value : '')
    if (found) zoom.show([found.x / width, found.y / height])
    else zoom.fit()
  }
  const onClick = (event: MouseEvent) => {
    if (places && isLarge && !zoom.canOut) zoom.open({ x: event.clientX, y: event.clientY })
  }
  return (
    <figure class={`drawing${zoom.canOut ? ' full' : ''}${places && isLarge ? ' opens' : ''}`}>
      {places && isLarge && (
        <label class="field deck-choice">
          <span>Show</span>
          <select
            value={place || (zoom.canOut ? 'part' : '')}
            onChange={(event) => goTo((event.currentTarget as HTMLSelectElement).value)}
          >
            <option value="">the whole diagram</option>
            {zoom.canOut && place === '' && <option value="part">part of the diagram</option>}
            {places.map(({ name }, i) => (
              <option value={String(i)}>{name}</option>
            ))}
          </select>
        </label>
      )}
      <div
        class="wide"
        tabIndex={0}
        role="group"
        aria-label={figure.title}
        ref={frame}
        onKeyDown={onKeyDown}
        onClick={onClick}
        {...reading}
      >
        <div class="chart-box">
          <img
            ref={image}
            src={url}
            alt={`${figure.title}. ${says}`}
            width={width}
            height={height}
            style={zoom.width === undefined ? undefined : { width: `${zoom.width}px` }}
          />
          {line !== undefined && (
            <svg class="chart-line" viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">
              <line
                x1={line}
                x2={line}
                y1={(100 * chart!.box.top) / chart!.height}
                y2={(100 * chart!.box.bottom) / chart!.height}
              />
            </svg>
          )}
        </div>
      </div>
      {chart && (
        <p class="chart-values" aria-live="polite">
          {share === undefined ? (
            'Point at the chart, or focus it and press an arrow key, to read its values.'
          ) : (
            <Values chart={chart} at={xAt(chart, share)} />
          )}
        </p>
      )}
      <figcaption>
        <span>
          {says} {places && isLarge && 'To read a part, choose it above or in the diagram. '}
          <span class="quiet">Source: {source}.</span>
        </span>
        {isLarge && (
          <span class="zooms" role="group" aria-label="Zoom of the figure">
            <button type="button" aria-label="Zoom out" disabled={!zoom.canOut} onClick={() => zoomOut(zoom)}>
              −
            </button>
            <button type="button" disabled={!zoom.canOut} onClick={zoom.fit}>
              Fit
            </button>
            <button type="button" aria-label="Zoom in" disabled={!zoom.canIn} onClick={() => zoomIn(zoom)}>
              +
            </button>
          </span>
        )}
        <TakeFigure
          name={figure.name}
          title={figure.title}
          caption={`${figure.title}. ${says} Source: ${source}.`}
          svg={() => figure.svg}
        />
      </figcaption>
    </figure>
  )
}

/** Share of its own width that the figure has when it is fitted into the page; measured again when the page changes. */
function useFittedShare(image: { current: HTMLImageElement | null }, width: number): number {
  const [share, setShare] = useState(1)
  useEffect(() => {
    const img = image.current
    const room = img?.closest('.wide')
    if (!img || !room) return
    const measure = () => {
      if (!img.style.width) setShare(img.clientWidth / width)
    }
    const watch = new ResizeObserver(measure)
    watch.observe(room)
    return () => watch.disconnect()
  }, [image, width])
  return share
}

function Values({ chart, at }: { chart: ChartData; at: number }) {
  return (
    <>
      <strong>
        {chart.x.label} {inWords(at, chart.x.unit)}
      </strong>
      {valuesAt(chart, at)
        .filter(({ value }) => value !== undefined)
        .map(({ label, value }) => (
          <span>
            {label} <b>{inWords(value!, chart.y.unit)}</b>
          </span>
        ))}
    </>
  )
}

/** Times are said in the unit that fits. */
function inWords(value: number, unit: string): string {
  if (unit === 's') return formatTimeUs(value * 1e6, 3)
  if (unit === 'ms') return formatTimeUs(value * 1e3, 3)
  return `${formatNumber(value, 3)}${unit === '' ? '' : ` ${unit}`}`
}

function chartOf(svg: string): ChartData | undefined {
  const found = /<metadata>([^<]*)<\/metadata>/.exec(svg)?.[1]
  if (found === undefined) return undefined
  const text = found
    .replace(/&quot;/g, '"')
    .replace(/&lt;/g, '<')
    .replace(/&gt;/g, '>')
    .replace(/&amp;/g, '&')
  return JSON.parse(text)
}
