import { going } from '../state/runs.js'

/** What is under way, how far it is, and how to stop it. */
export function GoingOn() {
  const now = going.value
  if (!now) return null
  return (
    <div class="going">
      <label>
        <span>{now.what}</span>
        <progress max={1} value={now.share} />
      </label>
      <span class="mono">{now.says}</span>
      <button type="button" onClick={now.stop}>
        Stop
      </button>
    </div>
  )
}
