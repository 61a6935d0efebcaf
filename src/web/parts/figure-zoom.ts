/**
 * Zoom of a drawing that opens fitted into the page: buttons and keys, Ctrl and the wheel, two fingers, a click at its own
 * size, a place of it in the middle; it is panned by scrolling.
 */
import type { RefObject } from 'preact'
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks'
import { usePinch } from './pinch.js'

const STEP = 1.5
/** Enlarged beyond its own size so many times, a drawing shows nothing new. */
const MOST = 2

export interface FigureZoom {
  /** Width of the image where it is zoomed in; fitted where undefined. */
  width: number | undefined
  canIn: boolean
  canOut: boolean
  by(factor: number): void
  /** At its own size, with what is under the pointer left there. */
  open(at: { x: number; y: number }): void
  /** At its own size, with this share of its width and height in the middle. */
  show(share: readonly [number, number]): void
  fit(): void
}

/** A share of the image, and where in the frame it is; in its middle where that is left out. */
interface Held {
  share: readonly [number, number]
  at: readonly [number, number] | undefined
}

/** @param own width of the drawing in its own units, px. */
export function useFigureZoom(
  frame: RefObject<HTMLElement | null>,
  image: RefObject<HTMLImageElement | null>,
  own: number,
): FigureZoom {
  const [width, setWidth] = useState<number | undefined>(undefined)
  const fitted = useRef(own)
  // Under it the drawing stays where it was: a share of the image, and a place in the frame.
  const held = useRef<Held | undefined>(undefined)

  const to = (next: number, at?: { x: number; y: number }) => {
    const [box, img] = [frame.current!, image.current!]
    if (width === undefined) fitted.current = img.clientWidth
    const [outer, inner] = [box.getBoundingClientRect(), img.getBoundingClientRect()]
    const [x, y] = at ? [at.x, at.y] : [outer.x + outer.width / 2, outer.y + outer.height / 2]
    held.current = {
      share: [(x - inner.x) / inner.width, (y - inner.y) / inner.height],
      at: [x - outer.x, y - outer.y],
    }
    const most = Math.max(MOST * own, fitted.current)
    setWidth(next <= fitted.current * 1.02 ? undefined : Math.min(most, next))
  }
  const settle = () => {
    const [box, img, keep] = [frame.current, image.current, held.current]
    if (!box || !img || !keep) return
    held.current = undefined
    const at = keep.at ?? [box.clientWidth / 2, box.clientHeight / 2]
    box.scrollLeft = img.clientWidth * keep.share[0] - at[0]
    box.scrollTop = img.clientHeight * keep.share[1] - at[1]
  }
  useLayoutEffect(settle, [width])
  // Another size of the page fits anew.
  useEffect(() => {
    const refit = () => setWidth(undefined)
    addEventListener('resize', refit)
    return () => removeEventListener('resize', refit)
  }, [])
  const by = (factor: number, at?: { x: number; y: number }) => {
    to((width ?? image.current!.clientWidth) * factor, at)
  }
  const latest = useRef(by)
  latest.current = by
  useEffect(() => {
    const box = frame.current!
    const wheel = (event: WheelEvent) => {
      if (!event.ctrlKey) return
      event.preventDefault()
      latest.current(1.0015 ** -event.deltaY, { x: event.clientX, y: event.clientY })
    }
    box.addEventListener('wheel', wheel, { passive: false })
    return () => box.removeEventListener('wheel', wheel)
  }, [])
  usePinch(frame, (factor, at) => latest.current(factor, at))
  return {
    width,
    canIn: (width ?? 0) < MOST * own,
    canOut: width !== undefined,
    by: (factor) => by(factor),
    open: (at) => to(own, at),
    show(share) {
      if (width === undefined) fitted.current = image.current!.clientWidth
      held.current = { share, at: undefined }
      if (width === own) settle()
      else setWidth(own)
    },
    fit: () => setWidth(undefined),
  }
}

/** `+`, `−` and `0` on the figure itself. */
export function zoomKey(zoom: FigureZoom, key: string): boolean {
  if (key === '+' || key === '=') zoom.by(STEP)
  else if (key === '-') zoom.by(1 / STEP)
  else if (key === '0') zoom.fit()
  else return false
  return true
}

export const zoomIn = (zoom: FigureZoom) => zoom.by(STEP)
export const zoomOut = (zoom: FigureZoom) => zoom.by(1 / STEP)
