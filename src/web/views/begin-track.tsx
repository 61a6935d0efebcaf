/** Where the design has no railroad yet: a first section on a bus, to draw on from there. */
import { useState } from 'preact/hooks'
import { addPart } from '../state/design.js'

export function BeginTrack() {
  const [refused, setRefused] = useState<string | undefined>(undefined)
  return (
    <p>
      <button type="button" class="main" onClick={async () => setRefused(await addPart(['track']))}>
        Draw a railroad
      </button>{' '}
      <span role="status">{refused && <span class="broken">Not started: {refused}</span>}</span>
    </p>
  )
}
