/** Zoom by the wheel, and by two fingers. */
import type { RefObject } from 'preact'
import { useEffect } from 'preact/hooks'
import { usePinch } from '../parts/pinch.js'
import { type MapView, panMap, WIDTH, zoomMap } from './map-view.js'

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

/** @param begun is called with each step: what one of the fingers had begun is none. */
export function useMapPinch(
  frame: RefObject<HTMLElement | null>,
  svg: RefObject<SVGSVGElement | null>,
  height: number,
  setView: (change: (view: MapView) => MapView) => void,
  begun: () => void,
): void {
  usePinch(frame, (factor, middle, moved) => {
    begun()
    const onScreen = svg.current!.getScreenCTM()!
    const p = new DOMPoint(middle.x, middle.y).matrixTransform(onScreen.inverse())
    const size = { width: WIDTH, height }
    setView((v) => {
      const zoomed = zoomMap(v, factor, [p.x, p.y], size)
      const unit = (onScreen.a * zoomed.zoom) / v.zoom
      return panMap(zoomed, [-moved.x / unit, -moved.y / unit], size)
    })
  })
}
