/** A problem of the text, with a way to its line. */
import type { TextProblem } from '../worker/calls.js'
import { showLine } from './pane-state.js'

export function ProblemLine({ problem: { line, path, message } }: { problem: TextProblem }) {
  return (
    <li>
      <button type="button" class="link" onClick={() => showLine(line)}>
        Line {line}
      </button>{' '}
      {path.length > 0 && <code>{path.join('.')}</code>} {message}
    </li>
  )
}
