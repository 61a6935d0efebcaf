/** Zoom by the wheel. */
import type { RefObject } from 'preact'
import { useEffect } from 'preact/hooks'
import { type MapView, zoomMap } from './map-view.js'

/** Width of the drawing in its own units. */
export const WIDTH = 1000

export function useWheelZoom(
  svg: RefObject<SVGSVGElement | null>,
  height: number,
  setView: (change: (view: MapView) => MapView) => void,
): void {
  // With Ctrl the wheel is the map's; without, it scrolls the page.
  useEffect(() => {
    const element = svg.current!
    const wheel = (event: WheelEvent) => {
      if (!event.ctrlKey && !event.metaKey) return
      event.preventDefault()
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(element.getScreenCTM()!.inverse())
      setView((v) => zoomMap(v, 1.0015 ** -event.deltaY, [p.x, p.y], { width: WIDTH, height }))
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [height])
}
