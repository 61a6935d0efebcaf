/** A drawing made by a room, shown as an image of its own, with ways to take it along. */
import { useEffect, useMemo } from 'preact/hooks'
import type { Figure } from '../worker/calls.js'
import { download } from './download.js'

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
        <span class="acts">
          <button type="button" onClick={() => download(`${figure.name}.svg`, figure.svg, 'image/svg+xml')}>
            SVG<span class="unseen"> of {figure.title}</span>
          </button>
          <button type="button" onClick={() => void asPng(figure, width, height)}>
            PNG<span class="unseen"> of {figure.title}</span>
          </button>
        </span>
      </figcaption>
    </figure>
  )
}

async function asPng(figure: Figure, width: number, height: number): Promise<void> {
  const image = new Image()
  const url = URL.createObjectURL(new Blob([figure.svg], { type: 'image/svg+xml' }))
  try {
    image.src = url
    await image.decode()
    const canvas = document.createElement('canvas')
    canvas.width = 2 * width
    canvas.height = 2 * height
    canvas.getContext('2d')!.drawImage(image, 0, 0, canvas.width, canvas.height)
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'))
    if (blob) download(`${figure.name}.png`, blob, 'image/png')
  } finally {
    URL.revokeObjectURL(url)
  }
}
