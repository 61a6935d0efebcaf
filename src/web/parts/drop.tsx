/** A place to drop a file on, which is also a button that opens the picker. */
import { useRef, useState } from 'preact/hooks'

interface DropProps {
  label: string
  hint: string
  accept?: string
  disabled?: boolean
  onFile(file: File): void
}

export function Drop({ label, hint, accept, disabled, onFile }: DropProps) {
  const input = useRef<HTMLInputElement>(null)
  const [over, setOver] = useState(false)
  return (
    <div
      class={`drop${over ? ' over' : ''}`}
      onDragOver={(event) => {
        event.preventDefault()
        setOver(true)
      }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault()
        setOver(false)
        const file = event.dataTransfer?.files[0]
        if (file && !disabled) onFile(file)
      }}
    >
      <button type="button" disabled={disabled} onClick={() => input.current?.click()}>
        {label}
      </button>
      <span class="quiet">{hint}</span>
      <input
        ref={input}
        type="file"
        hidden
        accept={accept}
        aria-label={label}
        onChange={(event) => {
          const field = event.currentTarget as HTMLInputElement
          const file = field.files?.[0]
          field.value = ''
          if (file) onFile(file)
        }}
      />
    </div>
  )
}
