/** Labelled fields with their help and what is wrong with them. */
import type { ComponentChild } from 'preact'
import { useId, useRef, useState } from 'preact/hooks'

interface TextFieldProps {
  label: string
  help?: string | undefined
  hint?: string
  fault?: string | undefined
  value: string
  long?: boolean
  /** @returns a sentence when it cannot be written. */
  onText(text: string): string | undefined
}

/** Every letter counts at once; what stands in the field is not disturbed while someone types. */
export function TextField({ label, help, hint, fault, value, long, onText }: TextFieldProps) {
  const [draft, setDraft] = useState<string | undefined>(undefined)
  const [refused, setRefused] = useState<string | undefined>(undefined)
  const wrote = useRef(value)
  // Undo, or the text side, may change the value under an open field.
  const shown = draft !== undefined && (refused !== undefined || wrote.current === value) ? draft : value
  const input = (event: Event) => {
    const typed = (event.currentTarget as HTMLInputElement).value
    setDraft(typed)
    wrote.current = typed.trim()
    setRefused(onText(typed.trim()) ?? undefined)
  }
  return (
    <Labelled label={label} help={help} fault={refused ?? fault}>
      {(ids) =>
        long ? (
          <textarea
            {...ids}
            rows={4}
            value={shown}
            placeholder={hint}
            onInput={input}
            onBlur={() => setDraft(undefined)}
          />
        ) : (
          <input
            {...ids}
            value={shown}
            placeholder={hint}
            autocomplete="off"
            spellcheck={false}
            onInput={input}
            onBlur={() => setDraft(undefined)}
          />
        )
      }
    </Labelled>
  )
}

interface Ids {
  id: string
  'aria-invalid': boolean
  'aria-describedby': string | undefined
}

/** What stands between backticks, as in the reference of the design file, is code. */
export function withCode(help: string): ComponentChild[] {
  return help.split('`').map((part, i) => (i % 2 === 1 ? <code>{part}</code> : part))
}

export function Labelled({
  label,
  help,
  fault,
  children,
}: {
  label: string
  help?: string | undefined
  fault?: string | undefined
  children: (ids: Ids) => ComponentChild
}) {
  const id = useId()
  const described = [help ? `${id}-help` : '', fault ? `${id}-fault` : ''].filter(Boolean).join(' ')
  return (
    <div class={`field${fault ? ' wrong' : ''}`}>
      <label for={id}>{label}</label>
      {children({ id, 'aria-invalid': fault !== undefined, 'aria-describedby': described || undefined })}
      {fault && (
        <p class="broken" id={`${id}-fault`}>
          ✗ {fault}
        </p>
      )}
      {help && (
        <p class="help quiet" id={`${id}-help`}>
          {withCode(help)}
        </p>
      )}
    </div>
  )
}
