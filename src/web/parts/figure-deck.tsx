/** One large figure at a time, chosen by its name. */
import { useState } from 'preact/hooks'
import type { Figure } from '../worker/calls.js'
import { Drawing } from './figure.js'

interface DeckProps {
  figures: readonly Figure[]
  source: string
  /** Names of figures begin with one of these, the most telling first. */
  order?: readonly string[]
}

export function FigureDeck({ figures, source, order = [] }: DeckProps) {
  const [chosen, setChosen] = useState<string | undefined>(undefined)
  const rank = ({ name }: Figure) => {
    const at = order.findIndex((start) => name.startsWith(start))
    return at < 0 ? order.length : at
  }
  const sorted = [...figures].sort((a, b) => rank(a) - rank(b))
  const figure = sorted.find((f) => f.name === chosen) ?? sorted[0]
  if (!figure) return null
  return (
    <section class="deck" aria-label="Figure">
      {sorted.length > 1 && (
        <label class="field deck-choice">
          <span>Figure</span>
          <select
            value={figure.name}
            onChange={(event) => setChosen((event.currentTarget as HTMLSelectElement).value)}
          >
            {sorted.map((f) => (
              <option value={f.name}>{f.title}</option>
            ))}
          </select>
        </label>
      )}
      <Drawing key={figure.name} figure={figure} source={source} />
    </section>
  )
}
