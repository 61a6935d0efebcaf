/** Export a drawing as SVG or PNG, light or dark, with a caption that states its source. */
import { signal } from '@preact/signals'
import { useId } from 'preact/hooks'
import { exportedFigure, type Scheme } from '../../plot/index.js'
import { staleNote } from '../state/consequences.js'
import { download } from './download.js'

/** One choice for all drawings, so that a set of them looks alike. */
const scheme = signal<Scheme>(
  globalThis.matchMedia?.('(prefers-color-scheme: dark)').matches ? 'dark' : 'light',
)

interface TakeProps {
  /** Name of the file, without ending. */
  name: string
  title: string
  /** What it shows and where it is from. */
  caption: string
  /** The drawing as SVG text; its own styles may follow light and dark. */
  svg(scheme: Scheme): string
}

export function TakeFigure({ name, title, caption, svg }: TakeProps) {
  const id = useId()
  const made = () => {
    const marked = [staleNote.value, caption].filter(Boolean).join('. ')
    return exportedFigure(svg(scheme.value), scheme.value, marked)
  }
  return (
    <span class="acts take">
      <label for={id} class="unseen">
        Colours of {title} of the exported image
      </label>
      <select
        id={id}
        value={scheme.value}
        onChange={(event) => (scheme.value = (event.currentTarget as HTMLSelectElement).value as Scheme)}
      >
        <option value="light">light</option>
        <option value="dark">dark</option>
      </select>
      <button type="button" onClick={() => download(`${name}.svg`, made(), 'image/svg+xml')}>
        SVG<span class="unseen"> of {title}</span>
      </button>
      <button type="button" onClick={() => void takePng(name, made())}>
        PNG<span class="unseen"> of {title}</span>
      </button>
    </span>
  )
}

async function takePng(name: string, svg: string): Promise<void> {
  const width = Number(/ width="([\d.]+)"/.exec(svg)?.[1] ?? 800)
  const height = Number(/ height="([\d.]+)"/.exec(svg)?.[1] ?? 400)
  const image = new Image()
  const url = URL.createObjectURL(new Blob([svg], { type: 'image/svg+xml' }))
  try {
    image.src = url
    await image.decode()
    const canvas = document.createElement('canvas')
    canvas.width = 2 * width
    canvas.height = 2 * height
    canvas.getContext('2d')!.drawImage(image, 0, 0, canvas.width, canvas.height)
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'))
    if (blob) download(`${name}.png`, blob, 'image/png')
  } finally {
    URL.revokeObjectURL(url)
  }
}
