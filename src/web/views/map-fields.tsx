/** Fields that the forms beside the map share, and how an edit is made. */
import type { ComponentChildren } from 'preact'
import { useId, useState } from 'preact/hooks'
import type { TrackAction, TurnoutPort } from '../../track/index.js'
import { editRailroad } from '../state/railroad.js'
import type { TrackMapData } from '../worker/map-data.js'

/** What the map has filled in; the forms change it too. */
export interface Picked {
  /** The section, and a place on it. */
  track: string
  atMm: number | undefined
  joint: string
  stand: string
  /** A section to be. */
  from: string
  to: string
  start: [number, number]
  end: [number, number]
  /** Direction in which it begins; degrees, from the right, growing downwards. */
  heading: number
  /** A turnout or crossing to be. */
  port: TurnoutPort
  hand: 'left' | 'right'
  isSlip: boolean
  partMm: number
  /** The section that a turnout or crossing is put into, none in the open; where its middle is, and where a turnout diverges to. */
  into: string
  intoMm: number
  towards: 'from' | 'to'
  /** The section that a crossing crosses there, none where that is still to be drawn, and the place on it. */
  across: string
  acrossMm: number
  /** How that section runs there, degrees. */
  acrossHeading: number
  /** A bus run to be, as it is measured on the map. */
  way: [number, number][]
  /** Sections of a district. */
  groups: readonly string[]
}

export interface FormProps {
  map: TrackMapData
  picked: Picked
  pick: (what: Partial<Picked>) => void
}

/** Longer lists are typed, not chosen from. */
const LISTED = 2000

export function Field({
  label,
  children,
  help,
}: {
  label: string
  children: (id: string) => ComponentChildren
  help?: string
}) {
  const id = useId()
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {children(id)}
      {help && <p class="quiet">{help}</p>}
    </div>
  )
}

export function Text({
  label,
  value,
  set,
  help,
}: {
  label: string
  value: string
  set: (v: string) => void
  help?: string
}) {
  return (
    <Field label={label} {...(help ? { help } : {})}>
      {(id) => <input id={id} value={value} onInput={(e) => set(e.currentTarget.value)} />}
    </Field>
  )
}

export function Mm({
  label,
  value,
  set,
  help,
  unit = 'mm',
}: {
  label: string
  value: number | undefined
  set: (v: number | undefined) => void
  help?: string
  unit?: string
}) {
  return (
    <Field label={`${label}, ${unit}`} {...(help ? { help } : {})}>
      {(id) => (
        <input
          id={id}
          type="number"
          step="any"
          value={value === undefined ? '' : String(Math.round(value * 1000) / 1000)}
          onInput={(e) => set(e.currentTarget.value === '' ? undefined : e.currentTarget.valueAsNumber)}
        />
      )}
    </Field>
  )
}

export function Choice({
  label,
  value,
  set,
  of,
  help,
}: {
  label: string
  value: string
  set: (v: string) => void
  of: readonly (readonly [string, string])[]
  help?: string
}) {
  return (
    <Field label={label} {...(help ? { help } : {})}>
      {(id) => (
        <select id={id} value={value} onChange={(e) => set(e.currentTarget.value)}>
          {of.map(([key, says]) => (
            <option value={key}>{says}</option>
          ))}
        </select>
      )}
    </Field>
  )
}

/** A name out of many, typed or chosen. */
export function Named({
  label,
  value,
  set,
  of,
  help,
}: {
  label: string
  value: string
  set: (v: string) => void
  of: readonly string[]
  help?: string
}) {
  const list = useId()
  return (
    <Field label={label} {...(help ? { help } : {})}>
      {(id) => (
        <>
          <input
            id={id}
            list={list}
            value={value}
            autocomplete="off"
            onInput={(e) => set(e.currentTarget.value)}
          />
          <datalist id={list}>
            {of.slice(0, LISTED).map((name) => (
              <option value={name} />
            ))}
          </datalist>
        </>
      )}
    </Field>
  )
}

/** An edit's button, with the reader's answer below it when it will not have the edit. */
export function useEdit(): {
  refused: string
  run: (action: TrackAction) => Promise<boolean>
  say: (why: string) => void
} {
  const [refused, setRefused] = useState('')
  return {
    refused,
    say: setRefused,
    async run(action) {
      const why = await editRailroad(action)
      setRefused(why ?? '')
      return why === undefined
    },
  }
}

export function Refused({ why }: { why: string }) {
  return <div role="alert">{why !== '' && <p class="refused">Not applied: {why}</p>}</div>
}

export function free(word: string, taken: readonly string[]): string {
  for (let n = 1; ; n++) if (!taken.includes(`${word}${n}`)) return `${word}${n}`
}

export const groupsOf = (map: TrackMapData) => [...new Set(map.tracks.map((t) => t.group))]

export const runChoices = (map: TrackMapData) =>
  map.runs.map((r) => [r.name, `${r.name} (district ${r.district})`] as const)

/** A place of the track, as the map has it or as it is typed. */
export function PlaceFields({ map, picked, pick }: FormProps) {
  return (
    <>
      <Named
        label="section"
        value={picked.track}
        set={(v) => pick({ track: v, atMm: undefined })}
        of={map.tracks.map((t) => t.name)}
      />
      <Mm
        label="from its start"
        value={picked.atMm}
        set={(v) => pick({ atMm: v })}
        help="its middle when empty"
      />
    </>
  )
}
