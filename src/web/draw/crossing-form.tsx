/** The form beside the map for a crossing or slip: into a section or where two of them cross, at a free end, or in the open. */
import { useState } from 'preact/hooks'
import type { TrackAction } from '../../track/index.js'
import {
  Choice,
  type FormProps,
  free,
  groupsOf,
  Mm,
  Named,
  Refused,
  runChoices,
  Text,
  useEdit,
} from '../views/map-fields.js'
import { headingOn } from '../views/map-place.js'
import { BeginFields, missingEnd, refOf } from './forms.js'
import { turnoutAt } from './geometry.js'
import { IntoSection, MiddleInSection } from './into-fields.js'

const KINDS = [
  ['crossing', 'crossing: two ways apart'],
  ['slip', 'slip: the ways join'],
] as const

export function CrossingForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [name, setName] = useState('')
  const [bus, setBus] = useState<string | undefined>(undefined)
  const sections = map.tracks.filter((t) => t.part === 'sections')
  const called = name || free('crossing', groupsOf(map))
  const isInto = picked.into !== ''
  const isAcross = isInto && picked.across !== ''
  const fed = bus ?? (picked.isSlip && picked.from ? '' : (map.runs[0]?.name ?? ''))
  const action = (): TrackAction => {
    const { partMm: lengthMm, isSlip } = picked
    if (isInto)
      return {
        do: 'insert crossing',
        name: called,
        lengthMm,
        isSlip,
        track: picked.into,
        atMm: picked.intoMm,
        across: isAcross ? { track: picked.across, atMm: picked.acrossMm } : undefined,
        bus: fed || undefined,
      }
    const { at } = turnoutAt(picked.start, picked.heading, lengthMm, 'points', 'right')
    return {
      do: 'add crossing',
      name: called,
      lengthMm,
      at,
      along: picked.heading,
      isSlip,
      meets: refOf(map, picked.from),
      bus: fed || undefined,
    }
  }
  return (
    <form
      onSubmit={async (e) => {
        e.preventDefault()
        const missing = isInto ? undefined : missingEnd(map, [picked.from])
        if (missing !== undefined) return edit.say(`no free end "${missing}" to meet`)
        if (!(await edit.run(action()))) return
        setName('')
        setBus(undefined)
        pick({ from: '', into: '', across: '' })
      }}
    >
      <h4>Add a crossing or slip</h4>
      <p class="quiet">
        Click where two sections cross, or any place of a section, to put it in. Or click a free end, or any
        point; in the open, drag to turn it. The ways of a crossing do not join: a way that is still to be
        drawn comes with a fed section of its own.
      </p>
      <div class="pairs">
        <Text label="name" value={called} set={setName} />
        <IntoSection map={map} picked={picked} pick={pick} />
        {isInto ? (
          <>
            <MiddleInSection map={map} picked={picked} pick={pick} />
            <Named
              label="across section"
              value={picked.across}
              set={(v) => {
                const track = sections.find((t) => t.name === v)
                const acrossMm = track ? Math.round(track.lengthMm / 2) : 0
                pick({ across: v, ...(track ? { acrossMm, acrossHeading: headingOn(track, acrossMm) } : {}) })
              }}
              of={sections.map((t) => t.name)}
              help="empty where the other way is still to be drawn"
            />
            {isAcross && (
              <Mm
                label="there, from its start"
                value={picked.acrossMm}
                set={(v) => pick({ acrossMm: v ?? 0 })}
              />
            )}
          </>
        ) : (
          <BeginFields map={map} picked={picked} pick={pick} />
        )}
        <Choice
          label="kind"
          value={picked.isSlip ? 'slip' : 'crossing'}
          set={(v) => pick({ isSlip: v === 'slip' })}
          of={KINDS}
        />
        <Mm label="length" value={picked.partMm} set={(v) => pick({ partMm: v ?? 0 })} />
        {!isAcross && (!isInto || !picked.isSlip) && (
          <Choice label="feeder from" value={fed} set={setBus} of={[['', 'none'], ...runChoices(map)]} />
        )}
      </div>
      <button type="submit" class="main">
        Add {picked.isSlip ? 'slip' : 'crossing'}
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}
