/**
 * The map in motion. While a wheel, a finger or a dragged background moves it, what is drawn already is moved and enlarged
 * as it is, without drawing 2,000 tracks and placing their names for each frame; it is drawn anew once the movement rests.
 */
import { type Signal, useSignal } from '@preact/signals'
import type { RefObject } from 'preact'
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks'
import { usePinch } from '../parts/pinch.js'
import { type MapView, onScreen, panMap, type Size, WHOLE, WIDTH, zoomMap } from './map-view.js'

/** A movement rests after so long, ms. */
const RESTS_MS = 150
/** Enlarged or made smaller by more than this it is drawn anew at once: it would be too coarse, or reach far beyond the view. */
const [LEAST, MOST] = [1 / 6, 8]

export interface MapMotion {
  /** What the drawing is drawn for. */
  drawn: MapView
  /** What is on screen: differs from it while the map moves. */
  live: Signal<MapView>
  /** In one step, drawn at once. */
  show(change: (view: MapView) => MapView): void
  /** Place of the drawing, in its units, under a point of the page. */
  under(at: { clientX: number; clientY: number }): [number, number]
  /** So many pixels are one of the drawing's units. */
  pixels(): number
  /** The background is dragged: from its pointer's first event to its last. Each says whether it was one of a drag. */
  grab(event: PointerEvent): boolean
  drag(event: PointerEvent): boolean
  drop(): boolean
}

/**
 * @param frame shows what is in view of the drawing `svg` in it.
 * @param pinched is called with each step of two fingers: what one of them had begun is none.
 */
export function useMapMotion(
  frame: RefObject<HTMLElement | null>,
  svg: RefObject<SVGSVGElement | null>,
  height: number,
  pinched: () => void,
): MapMotion {
  const [drawn, setDrawn] = useState(WHOLE)
  const live = useSignal(WHOLE)
  const now = useRef({ drawn, size: { width: WIDTH, height } })
  now.current = { drawn, size: { width: WIDTH, height } }
  const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined)

  const place = (view: MapView) => onScreen(view, now.current.size, insideOf(frame.current!))
  const rest = () => {
    clearTimeout(timer.current)
    timer.current = undefined
    if (live.peek() === now.current.drawn) stand()
    else setDrawn(live.peek())
  }
  const move = (change: (view: MapView) => MapView) => {
    const [had, next] = [live.peek(), change(live.peek())]
    if (next.zoom === had.zoom && next.x === had.x && next.y === had.y) return
    live.value = next
    clearTimeout(timer.current)
    const by = next.zoom / now.current.drawn.zoom
    if (by < LEAST || by > MOST) return rest()
    timer.current = setTimeout(rest, RESTS_MS)
    follow()
  }
  /** The drawing, made for one view, is put where it belongs in another. */
  const follow = () => {
    const element = svg.current!
    const from = place(now.current.drawn)
    const to = place(live.peek())
    const by = to.perUnit / from.perUnit
    const box = insideOf(frame.current!)
    const [x, y] = [
      to.left - box.left - (from.left - box.left) * by,
      to.top - box.top - (from.top - box.top) * by,
    ]
    Object.assign(element.style, {
      // A layer of its own, which is not drawn again while it moves, and shows what comes into view.
      willChange: 'transform',
      overflow: 'visible',
      transform: `translate(${x}px, ${y}px) scale(${by})`,
    })
  }
  const stand = () => Object.assign(svg.current!.style, { willChange: '', overflow: '', transform: '' })
  // Drawn anew, or moved on while it was being drawn.
  useLayoutEffect(() => {
    if (timer.current === undefined) stand()
    else follow()
  }, [drawn])
  useEffect(() => () => clearTimeout(timer.current), [])

  const show: MapMotion['show'] = (change) => {
    live.value = change(live.peek())
    rest()
  }
  const under: MapMotion['under'] = ({ clientX, clientY }) => {
    const { left, top, perUnit } = place(live.peek())
    return [(clientX - left) / perUnit, (clientY - top) / perUnit]
  }
  const zoom = (factor: number, at: { clientX: number; clientY: number }) =>
    move((v) => zoomMap(v, factor, under(at), now.current.size))

  // With Ctrl the wheel is the map's; without, it scrolls the page.
  useEffect(() => {
    const element = frame.current!
    const wheel = (event: WheelEvent) => {
      if (!event.ctrlKey && !event.metaKey) return
      event.preventDefault()
      zoom(1.0015 ** -event.deltaY, event)
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [])
  const held = useRef<{ x: number; y: number } | undefined>(undefined)
  const pixels = () => place(live.peek()).perUnit
  usePinch(frame, (factor, middle, moved) => {
    pinched()
    held.current = undefined
    zoom(factor, { clientX: middle.x, clientY: middle.y })
    const unit = pixels()
    move((v) => panMap(v, [-moved.x / unit, -moved.y / unit], now.current.size))
  })
  const grab: MapMotion['grab'] = (event) => {
    const isBackground = event.target === svg.current || event.target === frame.current
    if (!isBackground || live.peek().zoom === 1) return false
    frame.current!.setPointerCapture(event.pointerId)
    held.current = { x: event.clientX, y: event.clientY }
    return true
  }
  const drag: MapMotion['drag'] = ({ clientX: x, clientY: y }) => {
    const from = held.current
    if (!from) return false
    held.current = { x, y }
    const unit = pixels()
    move((v) => panMap(v, [(from.x - x) / unit, (from.y - y) / unit], now.current.size))
    return true
  }
  const drop: MapMotion['drop'] = () => {
    if (!held.current) return false
    held.current = undefined
    rest()
    return true
  }
  return { drawn, live, show, under, pixels, grab, drag, drop }
}

/** What is inside of its border, in the page's coordinates. */
function insideOf(frame: HTMLElement): Size & { left: number; top: number } {
  const { left, top, width, height } = frame.getBoundingClientRect()
  const [across, down] = [frame.clientLeft, frame.clientTop]
  return { left: left + across, top: top + down, width: width - 2 * across, height: height - 2 * down }
}
