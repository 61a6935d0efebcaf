/** A drawing made by a room, shown as an image of its own, with buttons to export it. */
import { useEffect, useMemo } from 'preact/hooks'
import type { Figure } from '../worker/calls.js'
import { TakeFigure } from './take-figure.js'

export function Drawing({ figure, source }: { figure: Figure; source: string }) {
  // As an image it keeps its own styles under the page's policy, and follows light and dark by itself.
  const url = useMemo(
    () => URL.createObjectURL(new Blob([figure.svg], { type: 'image/svg+xml' })),
    [figure.svg],
  )
  useEffect(() => () => URL.revokeObjectURL(url), [url])
  const says = /<desc[^>]*>([^<]*)</.exec(figure.svg)?.[1]?.replace(/&amp;/g, '&').replace(/&lt;/g, '<') ?? ''
  const width = Number(/ width="(\d+)/.exec(figure.svg)?.[1] ?? 800)
  const height = Number(/ height="(\d+)/.exec(figure.svg)?.[1] ?? 400)
  return (
    <figure class="drawing">
      <div class="wide" tabIndex={0} role="group" aria-label={figure.title}>
        <img src={url} alt={`${figure.title}. ${says}`} width={width} height={height} />
      </div>
      <figcaption>
        <span>
          {says} <span class="quiet">Source: {source}.</span>
        </span>
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
