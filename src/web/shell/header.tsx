import { useEffect, useRef, useState } from 'preact/hooks'
import { beginDesign } from '../edit/pane.js'
import type { Example } from '../file-host.js'
import { download } from '../parts/download.js'
import { answer, busy, lastValid, latencyMs } from '../state/consequences.js'
import {
  change,
  fileName,
  hostKind,
  news,
  redo,
  redoWhat,
  save,
  saveFault,
  saveState,
  text,
  theHost,
  undo,
  undoWhat,
} from '../state/design.js'

export function Header() {
  return (
    <header class="top">
      <h1>
        <svg viewBox="0 0 32 32" width="28" height="28" aria-hidden="true">
          <path class="mark" d="M1 21h6V11h6v10h4V11h10v10h4" />
        </svg>
        <span>
          Halfbit <span class="quiet">workbench</span>
        </span>
      </h1>
      <p class="design-name">
        <strong>{lastValid.value?.facts?.name ?? fileName.value}</strong>
        <span class="quiet">{fileName.value}</span>
      </p>
      <SaveLine />
      <div class="acts" role="group" aria-label="History">
        <button type="button" onClick={undo} disabled={undoWhat.value === undefined} title="Ctrl+Z">
          Undo<span class="unseen"> {undoWhat.value}</span>
        </button>
        <button type="button" onClick={redo} disabled={redoWhat.value === undefined} title="Ctrl+Shift+Z">
          Redo<span class="unseen"> {redoWhat.value}</span>
        </button>
      </div>
      {hostKind.value === 'browser' && <OwnFiles />}
    </header>
  )
}

function SaveLine() {
  const alone = hostKind.value === 'browser'
  const says = {
    saved: alone ? 'kept in this browser' : 'saved',
    changed: 'not saved yet',
    saving: 'saving …',
    conflict: 'not saved: both sides changed',
    failed: `not saved: ${saveFault.value}`,
  }[saveState.value]
  const took = latencyMs.value
  return (
    <p class="save">
      <span class={saveState.value === 'failed' || saveState.value === 'conflict' ? 'broken' : undefined}>
        {says}
      </span>
      {saveState.value === 'failed' && (
        <>
          <button type="button" onClick={() => void save()}>
            Try again
          </button>
          {!alone && (
            <button type="button" onClick={() => download(fileName.value, text.value, 'text/yaml')}>
              Download the text
            </button>
          )}
        </>
      )}
      <span class="quiet took" title="Time from the last change to its results">
        {took > 0 && answer.value.complete === false
          ? `${Math.round(took)} ms; the rest is being calculated …`
          : busy.value
            ? 'calculating …'
            : took > 0
              ? `recalculated in ${Math.round(took)} ms`
              : ''}
      </span>
    </p>
  )
}

/** Without a server a design comes and goes through the browser's own pickers. */
function OwnFiles() {
  const input = useRef<HTMLInputElement>(null)
  return (
    <div class="acts" role="group" aria-label="File">
      <Examples />
      <button type="button" onClick={beginDesign}>
        New
        <span class="unseen"> design</span>
      </button>
      <button type="button" onClick={() => input.current?.click()}>
        Open file
      </button>
      <button type="button" onClick={() => download(fileName.value, text.value, 'text/yaml')}>
        Download
      </button>
      <input
        ref={input}
        type="file"
        accept=".yaml,.yml"
        hidden
        aria-label="Design file"
        onChange={async (event) => {
          const field = event.currentTarget as HTMLInputElement
          const file = field.files?.[0]
          field.value = ''
          if (file) await openFile(file)
        }}
      />
    </div>
  )
}

const MOST_BYTES = 4 << 20

/** A file that is no text leaves the design as it is. */
async function openFile(file: File): Promise<void> {
  try {
    if (file.size > MOST_BYTES) throw new Error()
    const bytes = await file.arrayBuffer()
    change(new TextDecoder('utf-8', { fatal: true }).decode(bytes), `opening of ${file.name}`)
    news.value = `${file.name} is open. Undo restores the previous design.`
  } catch {
    news.value = `${file.name} was not opened: a design file is a text in UTF-8 of at most 4 MiB.`
  }
}

/** Every example that comes with the pages, loaded when it is chosen; undo restores the previous design. */
function Examples() {
  const [list, setList] = useState<Example[]>([])
  useEffect(() => {
    void theHost()
      .examples?.()
      .then(setList, () => {})
  }, [])
  if (list.length === 0) return null
  return (
    <select
      class="examples"
      aria-label="Open an example"
      value=""
      onChange={async (event) => {
        const field = event.currentTarget as HTMLSelectElement
        const name = field.value
        field.value = ''
        try {
          change(await theHost().openExample!(name), `opening of the example ${name}`)
          news.value = 'The example is open. Undo restores the previous design.'
        } catch (error) {
          news.value = error instanceof Error ? error.message : String(error)
        }
      }}
    >
      <option value="">Open an example …</option>
      {list.map(({ name, title }) => (
        <option value={name}>{title}</option>
      ))}
    </select>
  )
}
