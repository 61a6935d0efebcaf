/** The railroad to touch: layers to look at, tools to change it; every edit goes to the file as one step back. */
import { useEffect, useRef, useState } from 'preact/hooks'
import { news, raw, setValue } from '../state/design.js'
import { editRailroad, mapFault } from '../state/railroad.js'
import { wantedSection } from '../state/selection.js'
import type { MapLook, MapNode, MapStand, MapTrack, TrackMapData } from '../worker/calls.js'
import './map.css'
import {
  ChangeSection,
  DistrictForm,
  FeederForm,
  type FormProps,
  JointForm,
  type Picked,
  Refused,
  SectionForm,
  StandForm,
} from './map-forms.js'
import { nearestNode, nearestPlace, pointOn } from './map-place.js'
import { panMap, placeLabels, type Size, WHOLE, zoomMap } from './map-view.js'
import { RingingForm } from './ringing.js'

type Layer = 'planned' | 'worst' | 'short' | 'district' | 'polarity'
type Tool = 'short' | 'points' | 'section' | 'feeder' | 'joint' | 'district' | 'stand' | 'ringing'

const LAYERS: Record<Layer, string> = {
  planned: 'Voltage, trains as parked',
  worst: 'Voltage, worst-case train positions',
  short: 'Short-circuit current',
  district: 'Districts',
  polarity: 'Polarity',
}

const TOOLS: Record<Tool, { name: string; does: string }> = {
  short: { name: 'Test a short', does: 'Short' },
  points: { name: 'Move vertices', does: 'Short' },
  section: { name: 'Add section', does: 'Short' },
  feeder: { name: 'Feeders', does: 'Feed' },
  joint: { name: 'Gaps and joiners', does: 'Short' },
  district: { name: 'Set districts', does: 'Choose' },
  stand: { name: 'Place trains and loads', does: 'Place on' },
  ringing: { name: 'Ringing at a place', does: 'Edge at' },
}

const FORMS: Partial<Record<Tool, (props: FormProps) => preact.JSX.Element>> = {
  section: SectionForm,
  feeder: FeederForm,
  joint: JointForm,
  district: DistrictForm,
  stand: StandForm,
}

const WIDTH = 1000
/** Of the labels, in the drawing's units with the whole map in view. */
const FONT = 13
const MARGIN = 40
/** What the arrow keys move a point by, mm. */
const STEP_MM = 10
/** How near a drag must come to snap, in the drawing's units. */
const SNAP = 16
/** How near a click must come to a joint: a finger is wider than its mark. */
const NEAR = 30
/** A drag is no click. */
const CLICK = 6
/** More marks than these would hide the drawing. */
const MARKS = 1500
/** Keys that follow each other are one step back. */
const KEYS_MS = 500

const LOOKS = 4

interface Handle {
  path: (string | number)[]
  name: string
  at: [number, number]
}

interface Bounds {
  minX: number
  minY: number
  maxX: number
  maxY: number
}

type Drag =
  | { what: 'point'; handle: Handle }
  | { what: 'section'; from: [number, number] }
  | { what: 'stand'; stand: MapStand; track: number; atMm: number }
  | { what: 'view'; from: { x: number; y: number } }

export function TrackMap({ map, source }: { map: TrackMapData; source: string }) {
  const [layer, setLayer] = useState<Layer>('planned')
  const [tool, setTool] = useState<Tool>('short')
  const [chosen, setChosen] = useState<string | undefined>(undefined)
  const [focus, setFocus] = useState(0)
  const [drag, setDrag] = useState<Drag | undefined>(undefined)
  const [keyed, setKeyed] = useState<{ stand: MapStand; track: number; atMm: number } | undefined>(undefined)
  const [refused, setRefused] = useState('')
  const [view, setView] = useState(WHOLE)
  const [picked, setPicked] = useState<Picked>(() => nothingPicked(map))
  // A place that another stage speaks of.
  const wanted = wantedSection.value?.split(',')[0]
  useEffect(() => {
    if (wanted === undefined) return
    wantedSection.value = undefined
    setTool('short')
    setChosen(
      (map.tracks.find((t) => t.name === wanted) ?? map.tracks.find((t) => t.name.startsWith(`${wanted}.`)))
        ?.name,
    )
  }, [wanted])
  const svg = useRef<SVGSVGElement>(null)
  const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined)
  // Keys may come faster than the drawing follows.
  const wish = useRef<{ stand: MapStand; atMm: number } | undefined>(undefined)
  // While something is dragged the drawing must not move away under it.
  const held = useRef<Bounds | undefined>(undefined)
  const { minX, minY, maxX, maxY } =
    drag && held.current ? held.current : (held.current = boundsOf(map, tool === 'section'))
  const scale = (WIDTH - 2 * MARGIN) / Math.max(1, maxX - minX)
  const height = (maxY - minY) * scale + 2 * MARGIN
  const x = (mm: number) => MARGIN + (mm - minX) * scale
  const y = (mm: number) => MARGIN + (mm - minY) * scale
  const size = { width: WIDTH, height }
  const zoomBy = (factor: number) =>
    setView((v) => zoomMap(v, factor, [v.x + WIDTH / v.zoom / 2, v.y + height / v.zoom / 2], size))
  const track = map.tracks.find((t) => t.name === chosen)
  const handles = tool === 'points' ? handlesOf(raw.value) : []
  const pick = (what: Partial<Picked>) => setPicked((had) => ({ ...had, ...what }))
  // A new answer of the worker may show what a key moved.
  useEffect(() => {
    if (!wish.current) setKeyed(undefined)
  }, [map])
  useEffect(() => () => clearTimeout(timer.current), [])
  // With Ctrl the wheel is the map's; without, it scrolls the page.
  useEffect(() => {
    const element = svg.current!
    const wheel = (event: WheelEvent) => {
      if (!event.ctrlKey && !event.metaKey) return
      event.preventDefault()
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(element.getScreenCTM()!.inverse())
      setView((v) => zoomMap(v, 1.0015 ** -event.deltaY, [p.x, p.y], { width: WIDTH, height }))
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [height])

  const mmAt = (event: { clientX: number; clientY: number }): [number, number] => {
    const at = svg.current!.getScreenCTM()!.inverse()
    const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(at)
    return [Math.round((p.x - MARGIN) / scale + minX), Math.round((p.y - MARGIN) / scale + minY)]
  }
  const snapped = (at: [number, number]): { at: [number, number]; id: string } => {
    const near = nearestNode(
      map.nodes.filter((n) => n.meets),
      at,
      SNAP / scale,
    )
    return near ? { at: near.at, id: near.id } : { at, id: '' }
  }

  const touchTrack = (t: MapTrack, event?: MouseEvent) => {
    const place = event && nearestPlace([t], mmAt(event))
    const atMm = place ? Math.round(place.atMm) : undefined
    if (tool === 'district') {
      const on = !picked.groups.includes(t.group)
      pick({ groups: on ? [...picked.groups, t.group] : picked.groups.filter((g) => g !== t.group) })
    } else if (tool === 'feeder' || tool === 'stand' || tool === 'ringing') {
      pick({ track: t.name, atMm })
    } else if (tool === 'short' || tool === 'points') {
      setChosen(t.name === chosen ? undefined : t.name)
    }
  }
  const isPressed = (t: MapTrack) =>
    tool === 'district'
      ? picked.groups.includes(t.group)
      : tool === 'feeder' || tool === 'stand' || tool === 'ringing'
        ? picked.track === t.name
        : t.name === chosen

  const trackKey = (event: KeyboardEvent, i: number, t: MapTrack) => {
    if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault()
      touchTrack(t)
      return
    }
    const last = map.tracks.length - 1
    const to: Record<string, number> = {
      ArrowRight: Math.min(last, i + 1),
      ArrowDown: Math.min(last, i + 1),
      ArrowLeft: Math.max(0, i - 1),
      ArrowUp: Math.max(0, i - 1),
      Home: 0,
      End: last,
    }
    const next = to[event.key]
    if (next === undefined) return
    event.preventDefault()
    setFocus(next)
    svg.current!.querySelectorAll<SVGGElement>('g.track')[next]?.focus()
  }

  const place = async (stand: MapStand, to: number, atMm: number) => {
    const t = map.tracks[to]!
    pick({ stand: `${stand.what} ${stand.name}`, track: t.name, atMm: Math.round(atMm) })
    const why = await editRailroad({
      do: 'place',
      what: stand.what,
      name: stand.name,
      track: t.name,
      atMm: Math.round(atMm),
    })
    setRefused(why ?? '')
    if (why !== undefined) setKeyed(undefined)
  }
  const standKey = (event: KeyboardEvent, stand: MapStand, to: number, atMm: number) => {
    const by = (event.shiftKey ? 10 : 1) * STEP_MM
    const t = map.tracks[to]!
    const step: Record<string, number> = { ArrowLeft: -by, ArrowDown: -by, ArrowRight: by, ArrowUp: by }
    const way = step[event.key]
    if (way === undefined) return
    event.preventDefault()
    const from = wish.current?.stand.name === stand.name ? wish.current.atMm : atMm
    const next = Math.min(t.lengthMm, Math.max(0, from + way))
    wish.current = { stand, atMm: next }
    setKeyed({ stand, track: to, atMm: next })
    news.value = `${stand.name} at ${Math.round(next)} mm of ${t.name}`
    clearTimeout(timer.current)
    timer.current = setTimeout(() => {
      wish.current = undefined
      void place(stand, to, next)
    }, KEYS_MS)
  }

  const down = (event: PointerEvent) => {
    if (event.button !== 0) return
    if (tool !== 'section') {
      if (event.target !== svg.current || view.zoom === 1) return
      svg.current!.setPointerCapture(event.pointerId)
      setDrag({ what: 'view', from: { x: event.clientX, y: event.clientY } })
      return
    }
    const start = snapped(mmAt(event))
    svg.current!.setPointerCapture(event.pointerId)
    setDrag({ what: 'section', from: start.at })
    pick({ from: start.id, to: '', start: start.at, end: start.at })
  }
  const moveTo = (event: PointerEvent) => {
    if (!drag) return
    if (drag.what === 'view') {
      const by = svg.current!.getScreenCTM()!.a
      const { x: fromX, y: fromY } = drag.from
      setView((v) => panMap(v, [(fromX - event.clientX) / by, (fromY - event.clientY) / by], size))
      setDrag({ what: 'view', from: { x: event.clientX, y: event.clientY } })
      return
    }
    const at = mmAt(event)
    if (drag.what === 'point') setDrag({ ...drag, handle: { ...drag.handle, at } })
    else if (drag.what === 'section') {
      const end = snapped(at)
      pick({ to: end.id, end: end.at })
    } else {
      const near = nearestPlace(map.tracks, at)
      if (near) setDrag({ ...drag, track: near.track, atMm: near.atMm })
    }
  }
  const up = (event: PointerEvent) => {
    if (tool === 'joint') {
      const near = nearestNode(nodes, mmAt(event), NEAR / scale)
      if (near?.joint) pick({ joint: near.joint.name })
    }
    if (!drag) return
    setDrag(undefined)
    if (drag.what === 'view') return
    if (drag.what === 'point') setRefused(setValue(drag.handle.path, drag.handle.at) ?? '')
    else if (drag.what === 'section') {
      const size = Math.hypot(picked.end[0] - picked.start[0], picked.end[1] - picked.start[1])
      if (size * scale < CLICK) return
      const from = picked.from || `${picked.start.join(', ')} mm`
      const to = picked.to || `${picked.end.join(', ')} mm`
      news.value = `A section of ${Math.round(size)} mm, from ${from} to ${to}: look at the form, then add it.`
    } else {
      setKeyed({ stand: drag.stand, track: drag.track, atMm: drag.atMm })
      void place(drag.stand, drag.track, drag.atMm)
    }
  }

  const lookOf = (t: MapTrack): MapLook =>
    layer === 'district'
      ? {
          grade: `d${Math.max(0, map.districts.indexOf(t.district)) % LOOKS}`,
          label: `district ${t.district}`,
        }
      : t[layer]
  const Form = FORMS[tool]
  const showNodes = tool === 'section' || tool === 'joint'
  const nodes = showNodes
    ? map.nodes.filter((n) => (tool === 'joint' ? n.joint : n.meets)).slice(0, MARKS)
    : []
  const stands = tool === 'stand' ? map.stands.filter((s) => s.track !== undefined).slice(0, MARKS) : []
  const pickedTrack = map.tracks.find((t) => t.name === picked.track)
  const showPlace = pickedTrack && (tool === 'feeder' || tool === 'ringing')
  return (
    <section aria-labelledby="track-map">
      <h3 id="track-map" class="unseen">
        The railroad
      </h3>
      <div class="map-tools">
        <span>
          <label for="map-layer">Map shows</label>{' '}
          <select id="map-layer" value={layer} onChange={(e) => setLayer(e.currentTarget.value as Layer)}>
            {(Object.keys(LAYERS) as Layer[]).map((key) => (
              <option value={key}>{LAYERS[key]}</option>
            ))}
          </select>
        </span>
        <span>
          <label for="map-tool">Tool</label>{' '}
          <select id="map-tool" value={tool} onChange={(e) => setTool(e.currentTarget.value as Tool)}>
            {(Object.keys(TOOLS) as Tool[]).map((key) => (
              <option value={key}>{TOOLS[key].name}</option>
            ))}
          </select>
        </span>
        <label>
          Simulated fault{' '}
          <select
            value={mapFault.value ?? ''}
            onChange={(e) => (mapFault.value = e.currentTarget.value || undefined)}
          >
            <option value="">none</option>
            {map.faults.map(({ kind, list }) => (
              <optgroup label={kind}>
                {list.map(({ id, name }) => (
                  <option value={id}>
                    {kind}: {name}
                  </option>
                ))}
              </optgroup>
            ))}
          </select>
        </label>
        <span class="acts" role="group" aria-label="View of the map">
          <button
            type="button"
            onClick={() => zoomBy(1.6)}
            title="Ctrl and the wheel zoom; drag the ground to move"
          >
            Zoom in
          </button>
          <button type="button" disabled={view.zoom === 1} onClick={() => zoomBy(1 / 1.6)}>
            Zoom out
          </button>
          <button type="button" disabled={view.zoom === 1} onClick={() => setView(WHOLE)}>
            Whole map
          </button>
        </span>
      </div>
      {map.fault && (
        <div class="card" role="status">
          {map.fault.says.map((s) => (
            <p>{s}</p>
          ))}
          {map.fault.says.length === 1 && <p>No district's lowest voltage or weakest short changes.</p>}
        </div>
      )}
      <div class="wide" tabIndex={0} role="region" aria-label="Map of the railroad">
        <svg
          ref={svg}
          class={`track-map${tool === 'section' ? ' drawing' : ''}`}
          viewBox={`${view.x} ${view.y} ${WIDTH / view.zoom} ${height / view.zoom}`}
          role="group"
          aria-label={LAYERS[layer]}
          onPointerDown={down}
          onPointerMove={moveTo}
          onPointerUp={up}
          onPointerCancel={() => setDrag(undefined)}
        >
          {map.tracks.map((t, i) => {
            const look = lookOf(t)
            const pressed = isPressed(t)
            return (
              <g
                key={t.name + t.points[0]}
                class={`track ${look.grade}${pressed ? (tool === 'district' ? ' picked chosen' : ' chosen') : ''}`}
                role="button"
                tabindex={i === Math.min(focus, map.tracks.length - 1) ? 0 : -1}
                aria-pressed={pressed}
                aria-label={`${TOOLS[tool].does} ${t.name}: ${look.label || 'no figure'}`}
                onFocus={() => setFocus(i)}
                onClick={(event) => touchTrack(t, event)}
                onKeyDown={(event) => trackKey(event, i, t)}
              >
                <path class="reach" d={lineOf(t, x, y)} />
                <path class="line" d={lineOf(t, x, y)} />
              </g>
            )
          })}
          <Labels map={map} lookOf={lookOf} fontSize={FONT / view.zoom} x={x} y={y} size={size} />
          {layer === 'district' && <DistrictNames map={map} x={x} y={y} />}
          {track && <ShortMark track={track} x={x} y={y} />}
          {tool === 'feeder' &&
            map.feeders
              .slice(0, MARKS)
              .map((f) => <path class="feed" d={`M${x(f.at[0])} ${y(f.at[1]) + 3}l-6 11h12z`} />)}
          {nodes.map((n) => (
            <NodeMark
              key={n.id}
              node={n}
              chosen={n.joint ? picked.joint === n.joint.name : picked.from === n.id}
              x={x}
              y={y}
              onChoose={() =>
                tool === 'joint'
                  ? pick({ joint: n.joint!.name })
                  : pick({ from: n.id, to: '', start: n.at, end: n.at })
              }
            />
          ))}
          {tool === 'section' && (
            <path
              class="drawn"
              d={`M${x(picked.start[0])} ${y(picked.start[1])}L${x(picked.end[0])} ${y(picked.end[1])}`}
            />
          )}
          {showPlace && (
            <PlaceMark at={pointOn(pickedTrack, picked.atMm ?? pickedTrack.lengthMm / 2)} x={x} y={y} />
          )}
          {stands.map((s) => {
            const same = (o: MapStand) => o.name === s.name && o.what === s.what
            const now =
              drag?.what === 'stand' && same(drag.stand)
                ? drag
                : keyed && same(keyed.stand)
                  ? keyed
                  : undefined
            const to = now?.track ?? s.track!
            const atMm = now?.atMm ?? s.atMm
            const [px, py] = pointOn(map.tracks[to]!, atMm)
            return (
              <g
                key={`${s.what} ${s.name}`}
                class={`stand${picked.stand === `${s.what} ${s.name}` ? ' chosen' : ''}`}
                role="button"
                tabindex={0}
                aria-label={`${s.what} ${s.name} on ${map.tracks[to]!.name} at ${Math.round(atMm)} mm; arrow keys move it`}
                onPointerDown={(event) => {
                  event.preventDefault()
                  event.stopPropagation()
                  svg.current!.setPointerCapture(event.pointerId)
                  pick({ stand: `${s.what} ${s.name}`, track: map.tracks[to]!.name, atMm: Math.round(atMm) })
                  setDrag({ what: 'stand', stand: s, track: to, atMm })
                }}
                onKeyDown={(event) => standKey(event, s, to, atMm)}
              >
                <circle class="touch" cx={x(px)} cy={y(py)} r="24" />
                <rect x={x(px) - 12} y={y(py) - 12} width="24" height="24" rx={s.what === 'train' ? 4 : 12} />
                <text x={x(px)} y={y(py) - 16} text-anchor="middle">
                  {s.name}
                </text>
              </g>
            )
          })}
          {handles.map((handle) => {
            const now =
              drag?.what === 'point' && drag.handle.path.join() === handle.path.join()
                ? drag.handle.at
                : handle.at
            return (
              <g
                key={handle.path.join()}
                class="handle"
                role="button"
                tabindex={0}
                aria-label={`${handle.name} at ${now[0]}, ${now[1]} mm; arrow keys move it`}
                onPointerDown={(event) => {
                  event.preventDefault()
                  svg.current!.setPointerCapture(event.pointerId)
                  setDrag({ what: 'point', handle })
                }}
                onKeyDown={(event) => {
                  const by = event.shiftKey ? 10 * STEP_MM : STEP_MM
                  const step: Record<string, [number, number]> = {
                    ArrowLeft: [-by, 0],
                    ArrowRight: [by, 0],
                    ArrowUp: [0, -by],
                    ArrowDown: [0, by],
                  }
                  const way = step[event.key]
                  if (!way) return
                  event.preventDefault()
                  const now = handlesOf(raw.value).find((h) => h.path.join() === handle.path.join()) ?? handle
                  const at = [now.at[0] + way[0], now.at[1] + way[1]]
                  setRefused(setValue(handle.path, at) ?? '')
                  news.value = `${handle.name} at ${at.join(', ')} mm`
                }}
              >
                <circle class="touch" cx={x(now[0])} cy={y(now[1])} r="24" />
                <circle cx={x(now[0])} cy={y(now[1])} r="10" />
              </g>
            )
          })}
        </svg>
      </div>
      <p class="quiet">
        {layer === 'district' ? <DistrictKeys map={map} /> : <Keys map={map} layer={layer} />}
        {HINT[tool]}
      </p>
      <Refused why={refused} />
      {Form && (
        <div class="map-form">
          <Form map={map} picked={picked} pick={pick} />
        </div>
      )}
      {tool === 'ringing' && (
        <div class="map-form">
          <RingingForm map={map} picked={picked} pick={pick} source={source} />
        </div>
      )}
      {track && (tool === 'short' || tool === 'points') && (
        <>
          <p class="card" role="status">
            {track.says} Voltage on it: {track.planned.label} with trains as parked
            {track.worst.label ? `, ${track.worst.label} with trains at their worst positions` : ''}.
          </p>
          <ChangeSection key={`${track.group} ${track.lengthMm} ${track.count}`} track={track} map={map} />
        </>
      )}
    </section>
  )
}

interface LabelsProps {
  map: TrackMapData
  lookOf(t: MapTrack): MapLook
  /** In the drawing's units. */
  fontSize: number
  x(mm: number): number
  y(mm: number): number
  size: Size
}

/** Names and figures of the sections, as far as there is room; more come with zoom. */
function Labels({ map, lookOf, fontSize, x, y, size }: LabelsProps) {
  const wishes = map.tracks.slice(0, MARKS).map((t) => {
    const { label } = lookOf(t)
    return {
      text: label && label.length <= 12 ? `${t.name} ${label}` : t.name,
      line: t.points.map(([a, b]): [number, number] => [x(a), y(b)]),
    }
  })
  return (
    <g class="labels" font-size={fontSize}>
      {placeLabels(wishes, fontSize, size).map((l) => (
        <text x={l.x} y={l.y} text-anchor="middle">
          {l.text}
        </text>
      ))}
    </g>
  )
}

const HINT: Partial<Record<Tool, string>> = {
  short:
    'Choose a section to see what a short there would do; arrow keys move between sections. Ctrl and the wheel zoom; drag the ground to move.',
  points:
    'Drag a vertex, or move it with the arrow keys. Only the drawing changes; lengths stay as written. Sections that the file writes as one row move together.',
}

function nothingPicked(map: TrackMapData): Picked {
  const start: [number, number] = map.nodes.find((n) => n.meets)?.at ?? [0, 0]
  return {
    track: map.tracks[0]?.name ?? '',
    atMm: undefined,
    joint: '',
    stand: '',
    from: '',
    to: '',
    start,
    end: start,
    groups: [],
  }
}

/** @param wider with room around it to draw in. */
function boundsOf(map: TrackMapData, wider: boolean): Bounds {
  const all = map.tracks.flatMap((t) => t.points)
  const [minX, maxX] = bounds(all.map((p) => p[0]))
  const [minY, maxY] = bounds(all.map((p) => p[1]))
  const room = wider ? Math.max(300, (maxX - minX) / 12) : 0
  return { minX: minX - room, maxX: maxX + room, minY: minY - room, maxY: maxY + room }
}

type Scaled = (mm: number) => number

function NodeMark({
  node,
  chosen,
  x,
  y,
  onChoose,
}: {
  node: MapNode
  chosen: boolean
  x: Scaled
  y: Scaled
  onChoose(): void
}) {
  const { joint } = node
  const state = joint
    ? joint.gap === 'none'
      ? `no gap, joiner ${joint.joiner}`
      : `gap ${joint.gap}, joiner ${joint.joiner}`
    : 'free end'
  const cut = joint && joint.gap !== 'none'
  const name = `${joint ? `Joint ${joint.name}` : node.id}: ${state}`
  const cls = `node${cut ? ' cut' : ''}${joint ? '' : ' open'}${chosen ? ' chosen' : ''}`
  const [cx, cy] = [x(node.at[0]), y(node.at[1])]
  return (
    <rect
      class={cls}
      x={cx - (cut ? 5 : 8)}
      y={cy - (cut ? 11 : 8)}
      width={cut ? 10 : 16}
      height={cut ? 22 : 16}
      rx={joint ? 2 : 8}
      role="button"
      tabindex={0}
      aria-pressed={chosen}
      aria-label={joint ? name : `Start at ${name}`}
      onKeyDown={(event) => {
        if (event.key !== 'Enter' && event.key !== ' ') return
        event.preventDefault()
        onChoose()
      }}
    />
  )
}

function PlaceMark({ at, x, y }: { at: readonly [number, number]; x: Scaled; y: Scaled }) {
  return <circle class="place" cx={x(at[0])} cy={y(at[1])} r="11" />
}

/** The name of its district once at every row of sections. */
function DistrictNames({ map, x, y }: { map: TrackMapData; x: Scaled; y: Scaled }) {
  const seen = new Set<string>()
  return (
    <>
      {map.tracks.map((t) => {
        if (t.part !== 'sections' || seen.has(t.group) || seen.size > 150) return null
        seen.add(t.group)
        const [px, py] = pointOn(t, t.lengthMm / 2)
        return (
          <text x={x(px)} y={y(py) - 10} text-anchor="middle">
            {t.district}
          </text>
        )
      })}
    </>
  )
}

function Key({ grade, says }: { grade: string; says: string }) {
  return (
    <span class={`key ${grade}`}>
      <svg viewBox="0 0 40 10" width="40" height="10" aria-hidden="true" class="track-map">
        <g class={`track ${grade}`}>
          <path class="line" d="M2 5H38" />
        </g>
      </svg>{' '}
      {says}
    </span>
  )
}

function Keys({ map, layer }: { map: TrackMapData; layer: Exclude<Layer, 'district'> }) {
  const legend = map.legend[layer === 'short' ? 'short' : layer === 'polarity' ? 'polarity' : 'volt']
  return (
    <>
      {Object.entries(legend)
        .filter(([grade]) => map.tracks.some((t) => t[layer].grade === grade))
        .map(([grade, says]) => (
          <Key grade={grade} says={says} />
        ))}
    </>
  )
}

function DistrictKeys({ map }: { map: TrackMapData }) {
  return (
    <>
      {map.districts.map((name, i) => (
        <Key grade={`d${i % LOOKS}`} says={`district ${name}`} />
      ))}
    </>
  )
}

function ShortMark({ track, x, y }: { track: MapTrack; x: Scaled; y: Scaled }) {
  const [px, py] = pointOn(track, track.lengthMm / 2)
  return <path class="short" d={`M${x(px) + 4} ${y(py) - 16}l-10 18h8l-4 16l14 -22h-9z`} />
}

/** Points of sections and places of turnouts that the file gives. */
function handlesOf(data: unknown): Handle[] {
  const track = (data as { track?: Record<string, Record<string, unknown>> } | undefined)?.track ?? {}
  const list: Handle[] = []
  const isPoint = (p: unknown): p is [number, number] =>
    Array.isArray(p) && p.length === 2 && p.every((n) => typeof n === 'number')
  for (const [name, section] of Object.entries(track['sections'] ?? {})) {
    const points = (section as { points?: unknown } | null)?.points
    if (!Array.isArray(points)) continue
    points.forEach((p, i) => {
      if (isPoint(p))
        list.push({
          path: ['track', 'sections', name, 'points', i],
          name: `Point ${i + 1} of ${name}`,
          at: p,
        })
    })
  }
  for (const part of ['turnouts', 'crossings', 'turntables']) {
    for (const [name, one] of Object.entries(track[part] ?? {})) {
      const at = (one as { at?: unknown } | null)?.at
      if (isPoint(at)) list.push({ path: ['track', part, name, 'at'], name, at })
    }
  }
  return list
}

function lineOf(t: MapTrack, x: Scaled, y: Scaled): string {
  return t.points.map(([a, b], i) => `${i === 0 ? 'M' : 'L'}${x(a).toFixed(1)} ${y(b).toFixed(1)}`).join('')
}

function bounds(values: number[]): [number, number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const v of values) {
    if (v < low) low = v
    if (v > high) high = v
  }
  return low <= high ? [low, high] : [0, 1]
}
