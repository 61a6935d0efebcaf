/** The forms beside the map for districts, and for trains and loads. */
import { useState } from 'preact/hooks'
import type { MapStand } from '../worker/map-data.js'
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
} from './map-fields.js'

const NEW = '(new)'
/** More sections than these are picked on the map or typed. */
const BOXES = 300

export function DistrictForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [bus, setBus] = useState(NEW)
  const [name, setName] = useState('')
  const [driver, setDriver] = useState<string | undefined>(undefined)
  const groups = groupsOf(map)
  const called = name || free('district', map.districts)
  const chosen = driver ?? map.drivers[0] ?? ''
  const toggle = (group: string, on: boolean) =>
    pick({ groups: on ? [...picked.groups, group] : picked.groups.filter((g) => g !== group) })
  return (
    <form
      onSubmit={async (e) => {
        e.preventDefault()
        const names = picked.groups
        const done = await edit.run(
          bus === NEW
            ? { do: 'new district', names, district: called, driver: chosen }
            : { do: 'assign district', names, bus },
        )
        if (done) pick({ groups: [] })
      }}
    >
      <h4>District</h4>
      <p class="quiet">
        Choose the sections on the map or here. Where another district begins, both rails are cut; never join
        the outputs of two boosters.
      </p>
      <fieldset>
        <legend>Sections</legend>
        {groups.slice(0, BOXES).map((g) => (
          <label>
            <input
              type="checkbox"
              checked={picked.groups.includes(g)}
              onChange={(e) => toggle(g, e.currentTarget.checked)}
            />
            {g}
          </label>
        ))}
      </fieldset>
      <div class="pairs">
        <Choice
          label="fed by"
          value={bus}
          set={setBus}
          of={[[NEW, 'a new district with a bus of its own'], ...runChoices(map)]}
        />
        {bus === NEW && (
          <>
            <Text label="name of the district" value={called} set={setName} />
            <Choice
              label="driver"
              value={chosen}
              set={setDriver}
              of={map.drivers.map((d) => [d, d] as const)}
            />
          </>
        )}
      </div>
      <button type="submit" class="main">
        {bus === NEW ? 'Make district' : 'Set district'}
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}

const standKey = (s: MapStand) => `${s.what} ${s.name}`

export function StandForm({ map, picked, pick }: FormProps) {
  const edit = useEdit()
  const [name, setName] = useState('')
  const [amp, setAmp] = useState<number | undefined>(0.05)
  const stand = map.stands.find((s) => standKey(s) === picked.stand)
  const track = map.tracks.find((t) => t.name === picked.track)
  const called =
    name ||
    free(
      'load',
      map.stands.map((s) => s.name),
    )
  const atMm = picked.atMm ?? (track ? track.lengthMm / 2 : 0)
  return (
    <form
      onSubmit={(e) => {
        e.preventDefault()
        void edit.run(
          stand
            ? { do: 'place', what: stand.what, name: stand.name, track: picked.track, atMm }
            : { do: 'add load', name: called, currentA: amp ?? 0, track: picked.track, atMm },
        )
      }}
    >
      <h4>Trains and loads</h4>
      <p class="quiet">Drag one along the track, move it with the arrow keys, or enter its position here.</p>
      <div class="pairs">
        <Choice
          label="which"
          value={stand ? picked.stand : ''}
          set={(v) => {
            const s = map.stands.find((x) => standKey(x) === v)
            pick({
              stand: v,
              ...(s?.track === undefined ? {} : { track: map.tracks[s.track]!.name, atMm: s.atMm }),
            })
          }}
          of={[
            ['', 'a new load'],
            ...map.stands.map(
              (s) =>
                [standKey(s), s.track === undefined ? `${standKey(s)} (not placed)` : standKey(s)] as const,
            ),
          ]}
        />
        <Named
          label="section"
          value={picked.track}
          set={(v) => pick({ track: v, atMm: undefined })}
          of={map.tracks.map((t) => t.name)}
        />
        <Mm label="from its start" value={atMm} set={(v) => pick({ atMm: v })} />
        {!stand && <Text label="name" value={called} set={setName} />}
        {!stand && <Mm label="current" unit="A" value={amp} set={setAmp} />}
      </div>
      <button type="submit" class="main">
        {stand ? `Place ${stand.name}` : 'Add load'}
      </button>
      <Refused why={edit.refused} />
    </form>
  )
}
