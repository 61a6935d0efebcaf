/** The forms beside the map for sections, feeders and joints: every tool by keyboard, and with exact numbers. */
import { useState } from 'preact/hooks'
import type { EndRef, Gap } from '../../track/index.js'
import { headingOf } from '../draw/geometry.js'
import type { MapTrack, TrackMapData } from '../worker/map-data.js'
import {
  Choice,
  Field,
  type FormProps,
  free,
  groupsOf,
  Mm,
  Named,
  PlaceFields,
  Refused,
  runChoices,
  Text,
  useEdit,
} from './map-fields.js'
import { drawnLength } from './map-place.js'

export function SectionForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [name, setName] = useState('')
  const [own, setOwn] = useState<number | undefined>(undefined)
  const [bus, setBus] = useState<string | undefined>(undefined)
  const drawn = Math.round(Math.hypot(picked.end[0] - picked.start[0], picked.end[1] - picked.start[1]))
  const meets = map.nodes.filter((n) => n.meets)
  const node = (id: string): EndRef | undefined => meets.find((n) => n.id === id)?.meets
  const called = name || free('section', groupsOf(map))
  const fed = bus ?? (picked.from || picked.to ? '' : (map.runs[0]?.name ?? ''))
  const lengthMm = own ?? drawn
  const at = (which: 'from' | 'to', id: string) => {
    const there = meets.find((n) => n.id === id)?.at
    pick({ [which]: id, ...(there ? { [which === 'from' ? 'start' : 'end']: there } : {}) })
  }
  const point = (which: 'start' | 'end', axis: 0 | 1, v: number | undefined) => {
    const next: [number, number] = [...picked[which]]
    next[axis] = v ?? 0
    pick({ [which]: next, [which === 'start' ? 'from' : 'to']: '' })
  }
  return (
    <form
      onSubmit={async (e) => {
        e.preventDefault()
        for (const id of [picked.from, picked.to])
          if (id !== '' && !node(id)) return edit.say(`no free end "${id}" to meet`)
        if (!(lengthMm > 0)) return edit.say('it has no length yet: drag it on the map, or enter its length')
        const done = await edit.run({
          do: 'add section',
          name: called,
          lengthMm,
          points: [picked.start, picked.end],
          from: node(picked.from),
          to: node(picked.to),
          bus: fed || undefined,
        })
        if (!done) return
        setName('')
        setOwn(undefined)
        setBus(undefined)
        // The next piece goes on from here.
        pick({
          from: picked.to === '' ? `end of ${called}` : '',
          to: '',
          start: picked.end,
          end: picked.end,
          heading: headingOf(picked.start, picked.end),
        })
      }}
    >
      <h4>Add a section</h4>
      <p class="quiet">
        Drag on the map from a free end or any point to where the section should end, or enter it here.
      </p>
      <div class="pairs">
        <Text label="name" value={called} set={setName} />
        <Mm
          label="length"
          value={lengthMm}
          set={setOwn}
          help={own === undefined ? 'from the drawing' : `drawn ${drawn} mm`}
        />
        <Named
          label="connects to (start)"
          value={picked.from}
          set={(v) => at('from', v)}
          of={meets.map((n) => n.id)}
        />
        <Named
          label="connects to (end)"
          value={picked.to}
          set={(v) => at('to', v)}
          of={meets.map((n) => n.id)}
        />
        <Mm label="start, x" value={picked.start[0]} set={(v) => point('start', 0, v)} />
        <Mm label="start, y" value={picked.start[1]} set={(v) => point('start', 1, v)} />
        <Mm label="end, x" value={picked.end[0]} set={(v) => point('end', 0, v)} />
        <Mm label="end, y" value={picked.end[1]} set={(v) => point('end', 1, v)} />
        {map.runs.length > 0 && (
          <Choice label="feeder from" value={fed} set={setBus} of={[['', 'none'], ...runChoices(map)]} />
        )}
      </div>
      <button type="submit" class="main">
        Add section
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}

/** Length, number and removal of the section that is chosen. */
/** What a short there would do, the voltage on it, and its length to change. */
export function ChosenTrack({ track, map }: { track: MapTrack; map: TrackMapData }) {
  return (
    <>
      <p class="card" role="status">
        {track.says} Voltage on it: {track.planned.label} with trains as parked
        {track.worst.label ? `, ${track.worst.label} with trains at their worst positions` : ''}.
      </p>
      <ChangeSection key={`${track.group} ${track.lengthMm} ${track.count}`} track={track} map={map} />
    </>
  )
}

function ChangeSection({ track, map }: { track: MapTrack; map: TrackMapData }) {
  const edit = useEdit()
  const [length, setLength] = useState<number | undefined>(track.lengthMm)
  const [count, setCount] = useState<number | undefined>(track.count)
  const drawn = Math.round(
    map.tracks.filter((t) => t.group === track.group).reduce((sum, t) => sum + drawnLength(t), 0) /
      track.count,
  )
  if (track.part !== 'sections') return null
  return (
    <details class="map-form">
      <summary>Change or remove {track.group}</summary>
      {track.count > 1 && (
        <p class="quiet">
          {track.name} is one of {track.count} that the file writes as one row: what you change here holds for
          all of {track.group}.
        </p>
      )}
      <div class="pairs">
        <Mm
          label={track.count > 1 ? 'length of each' : 'length'}
          value={length}
          set={setLength}
          help={`drawn ${drawn} mm`}
        />
        <Field label="how many in a row">
          {(id) => (
            <input
              id={id}
              type="number"
              min={1}
              value={String(count ?? '')}
              onInput={(e) =>
                setCount(e.currentTarget.value === '' ? undefined : e.currentTarget.valueAsNumber)
              }
            />
          )}
        </Field>
      </div>
      <div class="switch">
        <button
          type="button"
          class="main"
          onClick={() => void edit.run({ do: 'change section', name: track.group, lengthMm: length, count })}
        >
          Change {track.group}
        </button>
        <button type="button" onClick={() => void edit.run({ do: 'remove section', name: track.group })}>
          Remove {track.count > 1 ? `all ${track.count} of ` : ''}
          {track.group}
        </button>
      </div>
      <Refused why={edit.refused} />
    </details>
  )
}

export function FeederForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [bus, setBus] = useState<string | undefined>(undefined)
  const [busMm, setBusMm] = useState<number | undefined>(undefined)
  const track = map.tracks.find((t) => t.name === picked.track)
  const run = bus ?? map.runs.find((r) => r.district === track?.district)?.name ?? map.runs[0]?.name ?? ''
  const own = map.feeders.filter((f) => track && f.path[2] === track.group)
  const byPath = [...new Map(own.map((f) => [f.path.join(), f])).values()]
  return (
    <form
      onSubmit={(e) => {
        e.preventDefault()
        void edit.run({ do: 'add feeder', track: picked.track, placeMm: picked.atMm, bus: run, busMm })
      }}
    >
      <h4>Add a feeder</h4>
      <p class="quiet">Choose a place on the map, or enter it here.</p>
      <div class="pairs">
        <PlaceFields map={map} picked={picked} pick={pick} />
        <Choice label="bus run" value={run} set={setBus} of={runChoices(map)} />
        <Mm
          label="tap position along the bus"
          value={busMm}
          set={setBusMm}
          help={`the end of the bus if empty; the bus is ${Math.round(map.runs.find((r) => r.name === run)?.lengthMm ?? 0)} mm long`}
        />
      </div>
      <button type="submit" class="main">
        Add feeder
      </button>
      <Refused why={edit.refused} />
      {byPath.length > 0 && (
        <ul aria-label={`Feeders of ${track!.group}`}>
          {byPath.map((f) => {
            const row = own.filter((x) => x.path.join() === f.path.join()).length
            const says =
              row > 1 ? `${row} feeders of ${track!.group}, written as one row` : `feeder of ${f.name}`
            return (
              <li>
                <span>
                  {says}, from {f.bus}
                </span>
                <button
                  type="button"
                  aria-label={`Remove ${says}, from ${f.bus}`}
                  onClick={() => void edit.run({ do: 'remove feeder', path: f.path })}
                >
                  Remove
                </button>
              </li>
            )
          })}
        </ul>
      )}
    </form>
  )
}

const GAPS: readonly (readonly [Gap, string])[] = [
  ['none', 'none: both rails run through'],
  ['both', 'both rails are cut'],
  ['left', 'the left rail is cut'],
  ['right', 'the right rail is cut'],
]
const JOINERS = [
  ['soldered', 'soldered'],
  ['slip', 'pushed together'],
  ['bad', 'loose or corroded'],
] as const

export function JointForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const joint = map.nodes.find((n) => n.joint?.name === picked.joint)?.joint
  const [wish, setWish] = useState<{ of: string; gap?: Gap; joiner?: string }>({ of: '' })
  const now = wish.of === picked.joint ? wish : { of: picked.joint }
  const gap = now.gap ?? joint?.gap ?? 'none'
  const joiner = now.joiner ?? joint?.joiner ?? 'slip'
  return (
    <form
      onSubmit={async (e) => {
        e.preventDefault()
        const done = await edit.run({
          do: 'set joint',
          name: picked.joint,
          ...(gap === joint?.gap ? {} : { gap }),
          ...(joiner === joint?.joiner ? {} : { joiner: joiner as 'soldered' | 'slip' | 'bad' }),
        })
        if (done) setWish({ of: '' })
      }}
    >
      <h4>Gap and joiner</h4>
      <p class="quiet">
        Choose a joint on the map or by name. Left and right are seen along the section that comes first in
        the file.
      </p>
      <div class="pairs">
        <Named
          label="joint"
          value={picked.joint}
          set={(v) => pick({ joint: v })}
          of={map.nodes.flatMap((n) => n.joint?.name ?? [])}
        />
        <Choice label="gap" value={gap} set={(v) => setWish({ ...now, gap: v as Gap })} of={GAPS} />
        <Choice label="joiner" value={joiner} set={(v) => setWish({ ...now, joiner: v })} of={JOINERS} />
      </div>
      <button type="submit" class="main">
        Set joint
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}
