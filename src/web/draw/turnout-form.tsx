/** The form beside the map for a turnout: into a section, at a free end, or in the open. */
import { useState } from 'preact/hooks'
import type { TrackAction, TurnoutPort } from '../../track/index.js'
import {
  Choice,
  type FormProps,
  free,
  groupsOf,
  Mm,
  Refused,
  runChoices,
  Text,
  useEdit,
} from '../views/map-fields.js'
import { BeginFields, HANDS, missingEnd, refOf } from './forms.js'
import { turnoutAt } from './geometry.js'
import { IntoSection, MiddleInSection } from './into-fields.js'

const PORTS: readonly (readonly [TurnoutPort, string])[] = [
  ['points', 'points: it divides ahead'],
  ['straight', 'straight end: ways join ahead'],
  ['diverging', 'diverging end: ways join ahead'],
]

const TOWARDS = [
  ['to', 'its end'],
  ['from', 'its start'],
] as const

export function TurnoutForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [name, setName] = useState('')
  const [bus, setBus] = useState<string | undefined>(undefined)
  const called = name || free('turnout', groupsOf(map))
  const isInto = picked.into !== ''
  const fed = bus ?? (picked.from ? '' : (map.runs[0]?.name ?? ''))
  const action = (): TrackAction => {
    const { partMm: lengthMm, hand } = picked
    if (isInto)
      return {
        do: 'insert turnout',
        name: called,
        lengthMm,
        hand,
        track: picked.into,
        atMm: picked.intoMm,
        towards: picked.towards,
      }
    const { at, along } = turnoutAt(picked.start, picked.heading, lengthMm, picked.port, hand)
    const meets = refOf(map, picked.from)
    return {
      do: 'add turnout',
      name: called,
      lengthMm,
      at,
      along,
      hand,
      port: picked.port,
      meets,
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
        pick({ from: '', into: '' })
      }}
    >
      <h4>Add a turnout</h4>
      <p class="quiet">
        Click a section to put the turnout in it, and drag to the side it diverges to. Or click a free end, or
        any point. Then draw on from its own free end.
      </p>
      <div class="pairs">
        <Text label="name" value={called} set={setName} />
        <IntoSection map={map} picked={picked} pick={pick} />
        {isInto ? (
          <>
            <MiddleInSection map={map} picked={picked} pick={pick} />
            <Choice
              label="diverges towards"
              value={picked.towards}
              set={(v) => pick({ towards: v as 'from' | 'to' })}
              of={TOWARDS}
            />
          </>
        ) : (
          <>
            <BeginFields map={map} picked={picked} pick={pick} />
            <Choice
              label="entered by its"
              value={picked.port}
              set={(v) => pick({ port: v as TurnoutPort })}
              of={PORTS}
            />
          </>
        )}
        <Choice
          label="diverges to the"
          value={picked.hand}
          set={(v) => pick({ hand: v as 'left' | 'right' })}
          of={HANDS}
        />
        <Mm label="length" value={picked.partMm} set={(v) => pick({ partMm: v ?? 0 })} />
        {!isInto && (
          <Choice label="feeder from" value={fed} set={setBus} of={[['', 'none'], ...runChoices(map)]} />
        )}
      </div>
      <button type="submit" class="main">
        Add turnout
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}
