/** The room that a figure has, px: it is drawn once, at that size. */
import type { RefObject } from 'preact'
import { useEffect, useRef, useState } from 'preact/hooks'

export function useSize<E extends HTMLElement>(): [RefObject<E | null>, { width: number; height: number }] {
  const box = useRef<E>(null)
  const [size, setSize] = useState({ width: 0, height: 0 })
  useEffect(() => {
    const element = box.current!
    const measure = () => {
      const { clientWidth: width, clientHeight: height } = element
      setSize((had) => (had.width === width && had.height === height ? had : { width, height }))
    }
    const observer = new ResizeObserver(measure)
    observer.observe(element)
    measure()
    return () => observer.disconnect()
  }, [])
  return [box, size]
}

/** Height of the view, px. */
export function useViewHeight(): number {
  const [height, setHeight] = useState(innerHeight)
  useEffect(() => {
    const follow = () => setHeight(innerHeight)
    addEventListener('resize', follow)
    return () => removeEventListener('resize', follow)
  }, [])
  return height
}

const NARROW = '(max-width: 599px)'

/** Whether the screen is a phone's: charts are drawn for it, not shrunk to it. */
export function useNarrow(): boolean {
  const [isNarrow, setNarrow] = useState(() => matchMedia(NARROW).matches)
  useEffect(() => {
    const query = matchMedia(NARROW)
    const follow = () => setNarrow(query.matches)
    query.addEventListener('change', follow)
    return () => query.removeEventListener('change', follow)
  }, [])
  return isNarrow
}
