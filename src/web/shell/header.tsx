/** The one row on top: the design, the signal path, whether it is saved, and the way back. */
import { useEffect, useRef, useState } from 'preact/hooks'
import { formatTimeUs } from '../../units/index.js'
import { openBeginning } from '../begin/state.js'
import { half } from '../edit/pane-state.js'
import type { Example } from '../file-host.js'
import { download } from '../parts/download.js'
import { Fitted } from '../parts/fitted.js'
import { runCounts } from '../state/automatic.js'
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
import { SignalPath } from './signal-path.js'

export function Header() {
  const name = lastValid.value?.facts?.name ?? fileName.value
  return (
    <header class="top">
      <h1>
        <svg viewBox="0 0 32 32" width="26" height="26" aria-hidden="true">
          <path class="mark" d="M1 21h6V11h6v10h4V11h10v10h4" />
        </svg>
        <span>
          Halfbit <span class="unseen">workbench</span>
          <small class="quiet" title={fileName.value}>
            <Fitted text={name} within="small" />
          </small>
        </span>
      </h1>
      <SignalPath />
      <div class="tail">
        <State />
        <button
          type="button"
          class="icon"
          onClick={undo}
          disabled={undoWhat.value === undefined}
          title="Undo, Ctrl+Z"
        >
          <span aria-hidden="true">↶</span>
          <span class="unseen">Undo {undoWhat.value}</span>
        </button>
        <button
          type="button"
          class="icon"
          onClick={redo}
          disabled={redoWhat.value === undefined}
          title="Redo, Ctrl+Shift+Z"
        >
          <span aria-hidden="true">↷</span>
          <span class="unseen">Redo {redoWhat.value}</span>
        </button>
        {hostKind.value === 'browser' && <OwnFiles />}
        <button
          type="button"
          class="to-design"
          aria-pressed={half.value === 'design'}
          onClick={() => (half.value = half.value === 'design' ? 'consequences' : 'design')}
        >
          Design
        </button>
      </div>
    </header>
  )
}

/** Saved or not, calculating or not, in as few words as there are. */
function State() {
  const alone = hostKind.value === 'browser'
  const saved = {
    saved: alone ? 'kept in this browser' : 'saved',
    changed: 'not saved yet',
    saving: 'saving …',
    conflict: 'not saved',
    failed: 'not saved',
  }[saveState.value]
  const took = latencyMs.value
  const { running, stale } = runCounts.value
  const doing =
    busy.value || answer.value.complete === false
      ? 'calculating …'
      : running > 0
        ? 'running …'
        : stale > 0
          ? `${stale} out of date`
          : took > 0
            ? `calculated in ${formatTimeUs(1000 * took, took < 1000 ? 2 : 3)}`
            : ''
  const isBad = saveState.value === 'failed' || saveState.value === 'conflict'
  return (
    <p class="save">
      <span class={isBad ? 'broken' : undefined}>{saved}</span>
      <span class="quiet took" title="Time from the last change to its results">
        {doing}
      </span>
    </p>
  )
}

/** A text that could not be saved: why, and what can be done. */
export function SaveTrouble() {
  if (saveState.value !== 'failed') return null
  return (
    <div class="trouble" role="alert">
      <p class="broken">not saved: {saveFault.value}</p>
      <button type="button" onClick={() => void save()}>
        Try again
      </button>
      {hostKind.value !== 'browser' && (
        <button type="button" onClick={() => download(fileName.value, text.value, 'text/yaml')}>
          Download the text
        </button>
      )}
    </div>
  )
}

/** Without a server a design comes and goes through the browser's own pickers. */
function OwnFiles() {
  const input = useRef<HTMLInputElement>(null)
  const menu = useRef<HTMLDetailsElement>(null)
  const close = () => {
    if (menu.current) menu.current.open = false
  }
  return (
    <details
      class="menu"
      ref={menu}
      onKeyDown={(event) => {
        if (event.key !== 'Escape') return
        close()
        menu.current?.querySelector('summary')?.focus()
      }}
    >
      <summary>File</summary>
      <div class="acts" role="group" aria-label="File">
        <Examples done={close} />
        <button
          type="button"
          onClick={() => {
            openBeginning()
            close()
          }}
        >
          New
          <span class="unseen"> design</span>
        </button>
        <button type="button" onClick={() => input.current?.click()}>
          Open file
        </button>
        <button type="button" onClick={() => download(fileName.value, text.value, 'text/yaml')}>
          Download
        </button>
      </div>
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
          close()
        }}
      />
    </details>
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
function Examples({ done }: { done(): void }) {
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
        done()
      }}
    >
      <option value="">Open an example …</option>
      {list.map(({ name, title }) => (
        <option value={name}>{title}</option>
      ))}
    </select>
  )
}
