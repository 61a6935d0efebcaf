/** Both sides changed: nothing is written until someone chooses, and what is not chosen stays one step back. */
import { choose, saveState, text, theirs } from '../state/design.js'

export function Conflict() {
  const other = theirs.value
  if (saveState.value !== 'conflict' || !other) return null
  const lines = differing(text.value, other.text)
  return (
    <section class="conflict" aria-labelledby="conflict-title" role="alert">
      <h2 id="conflict-title">Another program changed the file while you changed it here</h2>
      <p>
        Nothing has been overwritten. Choose the version to continue with; the other stays one undo step away.
      </p>
      <div class="wide" tabIndex={0} role="region" aria-label="Differing lines">
        <table>
          <thead>
            <tr>
              <th scope="col">Line</th>
              <th scope="col">Here</th>
              <th scope="col">On disk</th>
            </tr>
          </thead>
          <tbody>
            {lines.slice(0, 12).map(({ line, here, there }) => (
              <tr>
                <th scope="row">{line}</th>
                <td>
                  <code>{here}</code>
                </td>
                <td>
                  <code>{there}</code>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {lines.length > 12 && <p class="quiet">and {lines.length - 12} more lines</p>}
      <div class="acts">
        <button type="button" class="main" onClick={() => choose('mine')}>
          Keep my version
        </button>
        <button type="button" onClick={() => choose('theirs')}>
          Use the version on disk
        </button>
      </div>
    </section>
  )
}

interface Difference {
  line: number
  here: string
  there: string
}

/** Lines that differ after equal beginnings and ends are set aside. */
export function differing(here: string, there: string): Difference[] {
  const a = here.split('\n')
  const b = there.split('\n')
  let start = 0
  while (start < a.length && start < b.length && a[start] === b[start]) start++
  let end = 0
  while (end < a.length - start && end < b.length - start && a[a.length - 1 - end] === b[b.length - 1 - end])
    end++
  const list: Difference[] = []
  for (let i = start; i < Math.max(a.length, b.length) - end; i++) {
    const one = i < a.length - end ? a[i]! : ''
    const other = i < b.length - end ? b[i]! : ''
    if (one !== other) list.push({ line: i + 1, here: one, there: other })
  }
  return list
}
