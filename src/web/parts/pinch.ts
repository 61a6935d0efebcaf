/** Two fingers on a figure: how much further apart they are, and where between them. One finger scrolls the page as ever. */
import type { RefObject } from 'preact'
import { useEffect, useRef } from 'preact/hooks'

export interface Point {
  x: number
  y: number
}

/**
 * @param pinched gets each change: the factor of the fingers' distance, their middle in the page's coordinates, and how
 * far that middle has moved.
 */
export function usePinch(
  element: RefObject<Element | null>,
  pinched: (factor: number, middle: Point, moved: Point) => void,
): void {
  const act = useRef(pinched)
  act.current = pinched
  useEffect(() => {
    const on = element.current
    if (!on) return
    let last: { apart: number; middle: Point } | undefined
    const of = ({ touches: [a, b] }: TouchEvent) => {
      if (!a || !b) return undefined
      return {
        apart: Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY),
        middle: { x: (a.clientX + b.clientX) / 2, y: (a.clientY + b.clientY) / 2 },
      }
    }
    const begin = (event: TouchEvent) => {
      last = event.touches.length === 2 ? of(event) : undefined
    }
    const move = (event: TouchEvent) => {
      const now = event.touches.length === 2 ? of(event) : undefined
      if (!now) return
      // Else the browser would zoom the page.
      event.preventDefault()
      if (last && last.apart > 0)
        act.current(now.apart / last.apart, now.middle, {
          x: now.middle.x - last.middle.x,
          y: now.middle.y - last.middle.y,
        })
      last = now
    }
    const options = { passive: false } as const
    on.addEventListener('touchstart', begin as EventListener)
    on.addEventListener('touchend', begin as EventListener)
    on.addEventListener('touchcancel', begin as EventListener)
    on.addEventListener('touchmove', move as EventListener, options)
    return () => {
      on.removeEventListener('touchstart', begin as EventListener)
      on.removeEventListener('touchend', begin as EventListener)
      on.removeEventListener('touchcancel', begin as EventListener)
      on.removeEventListener('touchmove', move as EventListener)
    }
  }, [element])
}
