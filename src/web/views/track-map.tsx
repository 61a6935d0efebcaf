/** The railroad to touch: layers to look at, tools to change it; every edit goes to the file as one step back. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import {
  beginDraft,
  type DrawingTool,
  draftSays,
  fromNode,
  intoTrack,
  isDrawing,
  moveDraft,
} from '../draw/draft.js'
import { Grid, Preview } from '../draw/preview.js'
import { useSize, useViewHeight } from '../parts/size.js'
import { news } from '../state/design.js'
import { editRailroad } from '../state/railroad.js'
import { wantedSection } from '../state/selection.js'
import { raw, setValue } from '../state/values.js'
import type { MapStand, MapTrack, TrackMapData } from '../worker/map-data.js'
import './map.css'
import { BelowMap } from './map-below.js'
import type { Picked } from './map-fields.js'
import { type Bounds, boundsOf, type Handle, handlesOf, lineOf, nothingPicked } from './map-geometry.js'
import { DistrictNames, type Layer, MARKS, NodeMark, PlaceMark, ShortMark } from './map-marks.js'
import { useMapMotion } from './map-motion.js'
import { HandleMark, isMoved, STEP_MM, StandMark } from './map-movable.js'
import { nearestNode, nearestPlace, pointOn } from './map-place.js'
import { MapProfile } from './map-profile.js'
import { ScaleBar, Scenery } from './map-scenery.js'
import { FaultNote, LAYERS, MapTools, type Tool } from './map-tools.js'
import { pressedTracks, Tracks } from './map-tracks.js'
import { fitOf, gainsByTurning, isNarrow, turnedMap } from './map-turn.js'
import { WHOLE, WIDTH, zoomMap } from './map-view.js'

/** How near a drag must come to snap, in the drawing's units. */
const SNAP = 16
/** The same on the screen, px. */
const REACH_PX = 14
/** How near a click must come to a joint: a finger is wider than its mark. */
const NEAR = 30
/** Of the view, as the style sheet has it. */
const MOST_HIGH = 0.7
/** Keys that follow each other are one step back. */
const KEYS_MS = 500

type Drag =
  | { what: 'point'; handle: Handle }
  | { what: 'draft' }
  | { what: 'stand'; stand: MapStand; track: number; atMm: number }

export function TrackMap({ map: given, source }: { map: TrackMapData; source: string }) {
  const [frame, { width: framePx }] = useSize<HTMLDivElement>()
  const viewPx = useViewHeight()
  const [layer, setLayer] = useState<Layer>(
    given.tracks.some((t) => t.worst.label !== '') ? 'worst' : 'planned',
  )
  const [tool, setTool] = useState<Tool>(given.tracks.length === 0 ? 'section' : 'short')
  const [chosen, setChosen] = useState<string | undefined>(undefined)
  const [focus, setFocus] = useState(0)
  const [drag, setDrag] = useState<Drag | undefined>(undefined)
  const [keyed, setKeyed] = useState<{ stand: MapStand; track: number; atMm: number } | undefined>(undefined)
  const [refused, setRefused] = useState('')
  const [picked, setPicked] = useState<Picked>(() => nothingPicked(given))
  // What is drawn or moved is written as it lies in the file: then it is shown that way, too.
  const isTurned =
    isNarrow(framePx) && !isDrawing(tool) && tool !== 'points' && gainsByTurning(boundsOf(given, false))
  const map = useMemo(() => (isTurned ? turnedMap(given) : given), [given, isTurned])
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
  const bounds = drag && held.current ? held.current : (held.current = boundsOf(map, isDrawing(tool)))
  const { scale, left, top, height } = fitOf(bounds, framePx, isTurned ? viewPx : undefined)
  const { drawn: view, ...motion } = useMapMotion(frame, svg, height, () => setDrag(undefined))
  useEffect(() => motion.show(() => WHOLE), [isTurned])
  /** Pixels on the screen for each of the drawing's units, while the whole of it is in view. */
  const fit = Math.min(Math.max(framePx, 300) / WIDTH, (MOST_HIGH * viewPx) / height)
  const px = 1 / fit / view.zoom
  const x = (mm: number) => left + (mm - bounds.minX) * scale
  const y = (mm: number) => top + (mm - bounds.minY) * scale
  const lines = useMemo(
    () => map.tracks.map((t) => lineOf(t, x, y)),
    [map, left, top, scale, bounds.minX, bounds.minY],
  )
  const size = { width: WIDTH, height }
  const zoomBy = (factor: number) =>
    motion.show((v) => zoomMap(v, factor, [v.x + WIDTH / v.zoom / 2, v.y + height / v.zoom / 2], size))
  const track = map.tracks.find((t) => t.name === chosen)
  const handles = tool === 'points' ? handlesOf(raw.value) : []
  const pick = (what: Partial<Picked>) => setPicked((had) => ({ ...had, ...what }))
  // A new answer of the worker may show what a key moved.
  useEffect(() => {
    if (!wish.current) setKeyed(undefined)
  }, [map])
  useEffect(() => {
    // An end that is no longer there, after undo, is none to draw on from.
    if (picked.from !== '' && !map.nodes.some((n) => n.id === picked.from)) pick({ from: '' })
    if (picked.into !== '' && !map.tracks.some((t) => t.name === picked.into)) pick({ into: '', across: '' })
  }, [map])
  useEffect(() => () => clearTimeout(timer.current), [])

  const mmAt = (event: { clientX: number; clientY: number }): [number, number] => {
    const [px, py] = motion.under(event)
    return [Math.round((px - left) / scale + bounds.minX), Math.round((py - top) / scale + bounds.minY)]
  }
  /** The pointer may be faster than the page: each step goes on from the one before. */
  const draw = (step: typeof moveDraft, by: DrawingTool, at: [number, number]) =>
    setPicked((had) => ({ ...had, ...step(by, had, { map, reachMm: reachMm() }, at) }))
  /** A finger is no nearer on a small screen. */
  const reachMm = () => Math.max(SNAP, REACH_PX / motion.pixels()) / scale

  const touchTrack = (t: MapTrack, event?: MouseEvent) => {
    const place = event && nearestPlace([t], mmAt(event))
    const atMm = place ? Math.round(place.atMm) : undefined
    if (tool === 'district') {
      const on = !picked.groups.includes(t.group)
      pick({ groups: on ? [...picked.groups, t.group] : picked.groups.filter((g) => g !== t.group) })
    } else if (tool === 'feeder' || tool === 'stand' || tool === 'ringing') {
      pick({ track: t.name, atMm })
    } else if (tool === 'turnout' || tool === 'crossing') {
      // The pointer is followed by itself.
      if (!event && t.part === 'sections') pick(intoTrack(t))
    } else if (tool === 'short' || tool === 'points') {
      setChosen(t.name === chosen ? undefined : t.name)
    }
  }
  const pressed = useMemo(() => pressedTracks(map, tool, picked, chosen), [map, tool, picked, chosen])

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
  const on = useRef({ focus: setFocus, touch: touchTrack, key: trackKey })
  on.current = { focus: setFocus, touch: touchTrack, key: trackKey }

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
    if (!isDrawing(tool)) {
      motion.grab(event)
      return
    }
    frame.current!.setPointerCapture(event.pointerId)
    setDrag({ what: 'draft' })
    draw(beginDraft, tool, mmAt(event))
  }
  const moveTo = (event: PointerEvent) => {
    if (motion.drag(event) || !drag) return
    const at = mmAt(event)
    if (drag.what === 'point') setDrag({ ...drag, handle: { ...drag.handle, at } })
    else if (drag.what === 'draft') {
      if (isDrawing(tool)) draw(moveDraft, tool, at)
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
    if (motion.drop() || !drag) return
    setDrag(undefined)
    if (drag.what === 'point') setRefused(setValue(drag.handle.path, drag.handle.at) ?? '')
    else if (drag.what === 'draft') {
      if (isDrawing(tool)) news.value = draftSays(tool, picked)
    } else {
      setKeyed({ stand: drag.stand, track: drag.track, atMm: drag.atMm })
      void place(drag.stand, drag.track, drag.atMm)
    }
  }

  const showNodes = (isDrawing(tool) && tool !== 'bus') || tool === 'joint'
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
      <MapTools
        map={map}
        layer={layer}
        setLayer={setLayer}
        tool={tool}
        setTool={setTool}
        isWhole={view.zoom === 1}
        zoomBy={zoomBy}
        showWhole={() => motion.show(() => WHOLE)}
      />
      <FaultNote map={map} />
      <div class="wide" tabIndex={0} role="region" aria-label="Map of the railroad">
        <div
          class="map-window"
          ref={frame}
          onPointerDown={down}
          onPointerMove={moveTo}
          onPointerUp={up}
          onPointerCancel={() => {
            motion.drop()
            setDrag(undefined)
          }}
        >
          <svg
            ref={svg}
            class={`track-map${isDrawing(tool) ? ' drawing' : view.zoom > 1 ? ' near' : ''}`}
            viewBox={`${view.x} ${view.y} ${WIDTH / view.zoom} ${height / view.zoom}`}
            role="group"
            data-scale={JSON.stringify({ mmX: x(0), mmY: y(0), perMm: scale })}
            aria-label={LAYERS[layer]}
          >
            {isDrawing(tool) && <Grid bounds={bounds} x={x} y={y} />}
            <Tracks
              map={map}
              lines={lines}
              layer={layer}
              tool={tool}
              pressed={pressed}
              focus={focus}
              on={on}
            />
            <Scenery map={map} layer={layer} tool={tool} view={view} px={px} x={x} y={y} size={size} />
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
                onChoose={() => pick(tool === 'joint' ? { joint: n.joint!.name } : fromNode(n))}
              />
            ))}
            {isDrawing(tool) && <Preview tool={tool} picked={picked} x={x} y={y} />}
            {showPlace && (
              <PlaceMark at={pointOn(pickedTrack, picked.atMm ?? pickedTrack.lengthMm / 2)} x={x} y={y} />
            )}
            {stands.map((stand) => {
              const now = isMoved(stand, drag?.what === 'stand' ? drag : keyed)
              const to = now?.track ?? stand.track!
              const atMm = now?.atMm ?? stand.atMm
              const id = `${stand.what} ${stand.name}`
              return (
                <StandMark
                  key={id}
                  stand={stand}
                  track={map.tracks[to]!}
                  atMm={atMm}
                  chosen={picked.stand === id}
                  x={x}
                  y={y}
                  onGrab={(event) => {
                    frame.current!.setPointerCapture(event.pointerId)
                    pick({ stand: id, track: map.tracks[to]!.name, atMm: Math.round(atMm) })
                    setDrag({ what: 'stand', stand, track: to, atMm })
                  }}
                  onKey={(event) => standKey(event, stand, to, atMm)}
                />
              )
            })}
            {handles.map((handle) => (
              <HandleMark
                key={handle.path.join()}
                handle={handle}
                at={
                  drag?.what === 'point' && drag.handle.path.join() === handle.path.join()
                    ? drag.handle.at
                    : handle.at
                }
                x={x}
                y={y}
                onGrab={(event) => {
                  frame.current!.setPointerCapture(event.pointerId)
                  setDrag({ what: 'point', handle })
                }}
                onRefused={setRefused}
              />
            ))}
          </svg>
          {map.tracks.length > 0 && <ScaleBar perMm={scale * fit} live={motion.live} />}
        </div>
      </div>
      {(layer === 'planned' || layer === 'worst') && map.tracks.length > 0 && (
        <MapProfile
          map={map}
          layer={layer}
          chosen={chosen}
          choose={(name) => {
            setTool('short')
            setChosen(name)
          }}
        />
      )}
      <BelowMap
        map={map}
        layer={layer}
        tool={tool}
        picked={picked}
        pick={pick}
        refused={refused}
        track={track}
        source={source}
      />
    </section>
  )
}
