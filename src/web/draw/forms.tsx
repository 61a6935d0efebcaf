/** The forms beside the map for curves and bus runs: every drawing tool by keyboard, and with exact numbers. */
import { useState } from 'preact/hooks'
import type { EndRef } from '../../track/index.js'
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
import type { TrackMapData } from '../worker/map-data.js'
import { fromNode, wayMm } from './draft.js'
import { arcFrom, arcThrough, USUAL_CURVE, within180, type Xy } from './geometry.js'

const meets = (map: TrackMapData) => map.nodes.filter((n) => n.meets)
export const refOf = (map: TrackMapData, id: string): EndRef | undefined =>
  meets(map).find((n) => n.id === id)?.meets

/** Which free end it is joined to, or where and in which direction it begins. */
export function BeginFields({ map, picked, pick }: FormProps) {
  const place = (axis: 0 | 1, v: number | undefined) => {
    const start: Xy = [...picked.start]
    start[axis] = v ?? 0
    const moved: Xy = [picked.end[0] + start[0] - picked.start[0], picked.end[1] + start[1] - picked.start[1]]
    pick({ start, end: moved, from: '' })
  }
  return (
    <>
      <Named
        label="connects to (start)"
        value={picked.from}
        set={(id) => {
          const node = meets(map).find((n) => n.id === id)
          pick(node ? fromNode(node) : { from: id })
        }}
        of={meets(map).map((n) => n.id)}
      />
      <Mm label="start, x" value={picked.start[0]} set={(v) => place(0, v)} />
      <Mm label="start, y" value={picked.start[1]} set={(v) => place(1, v)} />
      <Mm
        label="direction at the start"
        unit="degrees"
        value={picked.heading}
        set={(v) => pick({ heading: v ?? 0, ...(picked.from === '' ? {} : { from: '' }) })}
        help="0 to the right, 90 downwards"
      />
    </>
  )
}

/** An end that is typed but not there. */
export const missingEnd = (map: TrackMapData, ids: string[]) => ids.find((id) => id !== '' && !refOf(map, id))

export function CurveForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [name, setName] = useState('')
  const [bus, setBus] = useState<string | undefined>(undefined)
  const drawn = arcThrough(picked.start, picked.heading, picked.end)
  const { radiusMm, turn } = drawn ?? USUAL_CURVE
  const arc = arcFrom(picked.start, picked.heading, radiusMm, turn)
  const called = name || free('curve', groupsOf(map))
  const fed = bus ?? (picked.from || picked.to ? '' : (map.runs[0]?.name ?? ''))
  const bend = (r: number, deg: number) =>
    pick({ end: arcFrom(picked.start, picked.heading, r, deg).end, to: '' })
  return (
    <form
      onSubmit={async (e) => {
        e.preventDefault()
        const missing = missingEnd(map, [picked.from, picked.to])
        if (missing !== undefined) return edit.say(`no free end "${missing}" to meet`)
        const done = await edit.run({
          do: 'add section',
          name: called,
          lengthMm: Math.round(arc.lengthMm * 10) / 10,
          arc: { centre: arc.centre, radiusMm, from: arc.from, to: arc.to },
          from: refOf(map, picked.from),
          to: refOf(map, picked.to),
          bus: fed || undefined,
        })
        if (!done) return
        setName('')
        setBus(undefined)
        // The next piece goes on from here.
        const next = picked.to === '' ? `end of ${called}` : ''
        pick({ from: next, to: '', start: arc.end, end: arc.end, heading: within180(arc.heading) })
      }}
    >
      <h4>Add a curve</h4>
      <p class="quiet">
        Drag on the map from a free end, whose direction it keeps, or from any point, or enter it here.
      </p>
      <div class="pairs">
        <Text label="name" value={called} set={setName} />
        <BeginFields map={map} picked={picked} pick={pick} />
        <Mm
          label="radius"
          value={Math.round(radiusMm * 10) / 10}
          set={(v) => v !== undefined && v > 0 && bend(v, turn)}
          help={`${Math.round(arc.lengthMm)} mm long`}
        />
        <Mm
          label="turns by"
          unit="degrees"
          value={Math.round(Math.abs(turn) * 10) / 10}
          set={(v) => v !== undefined && v > 0 && bend(radiusMm, Math.sign(turn) * v)}
        />
        <Choice
          label="to the"
          value={turn < 0 ? 'left' : 'right'}
          set={(v) => bend(radiusMm, v === 'left' ? -Math.abs(turn) : Math.abs(turn))}
          of={HANDS}
        />
        <Named
          label="connects to (end)"
          value={picked.to}
          set={(id) => {
            const node = meets(map).find((n) => n.id === id)
            pick({ to: id, ...(node ? { end: node.at } : {}) })
          }}
          of={meets(map).map((n) => n.id)}
        />
        {map.runs.length > 0 && (
          <Choice label="feeder from" value={fed} set={setBus} of={[['', 'none'], ...runChoices(map)]} />
        )}
      </div>
      <button type="submit" class="main">
        Add curve
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}

export const HANDS = [
  ['right', 'right'],
  ['left', 'left'],
] as const

const STATION = 'station '

export function BusForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [name, setName] = useState('')
  const [origin, setOrigin] = useState<string | undefined>(undefined)
  const [atMm, setAtMm] = useState<number | undefined>(undefined)
  const [wire, setWire] = useState('2.5 mm2')
  const [own, setOwn] = useState<number | undefined>(undefined)
  const drawn = Math.round(wayMm(picked.way))
  const lengthMm = own ?? drawn
  const called =
    name ||
    free(
      'bus',
      map.runs.map((r) => r.name),
    )
  const from = origin ?? `${STATION}${map.districts[0] ?? ''}`
  const isBranch = !from.startsWith(STATION)
  return (
    <form
      onSubmit={async (e) => {
        e.preventDefault()
        if (!(lengthMm > 0))
          return edit.say('it has no length yet: drag its way on the map, or enter its length')
        const done = await edit.run({
          do: 'add bus',
          name: called,
          wire,
          lengthMm,
          ...(isBranch ? { from, atMm } : { district: from.slice(STATION.length) || undefined }),
        })
        if (!done) return
        setName('')
        setOwn(undefined)
        pick({ way: [] })
      }}
    >
      <h4>Add a bus run</h4>
      <p class="quiet">
        Drag its way on the map to measure it, on from its end for each further part, or enter its length. The
        file keeps the length, not the way. Then tap feeders from it.
      </p>
      <div class="pairs">
        <Text label="name" value={called} set={setName} />
        <Choice
          label="fed from"
          value={from}
          set={setOrigin}
          of={[
            ...map.districts.map((d) => [`${STATION}${d}`, `the station, district ${d}`] as const),
            ...map.runs.map((r) => [r.name, `bus run ${r.name}`] as const),
          ]}
        />
        {isBranch && <Mm label="place on that run" value={atMm} set={setAtMm} help="its end when empty" />}
        <Text label="wire" value={wire} set={setWire} help="such as 2.5 mm2 or 14 AWG" />
        <Mm
          label="length"
          value={lengthMm}
          set={setOwn}
          help={own === undefined ? 'from the drawing' : `drawn ${drawn} mm`}
        />
      </div>
      <button type="submit" class="main">
        Add bus run
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}
