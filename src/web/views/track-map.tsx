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
import { DistrictNames, type Layer, lookAt, MARKS, NodeMark, PlaceMark, ShortMark } from './map-marks.js'
import { HandleMark, isMoved, STEP_MM, StandMark } from './map-movable.js'
import { nearestNode, nearestPlace, pointOn } from './map-place.js'
import { MapProfile } from './map-profile.js'
import { Scenery } from './map-scenery.js'
import { FaultNote, LAYERS, MapTools, TOOLS, type Tool } from './map-tools.js'
import { fitOf, gainsByTurning, isNarrow, turnedMap } from './map-turn.js'
import { panMap, WHOLE, WIDTH, zoomMap } from './map-view.js'
import { useMapPinch, useWheelZoom } from './map-wheel.js'

/** How near a drag must come to snap, in the drawing's units. */
const SNAP = 16
/** The same on the screen, px. */
const REACH_PX = 14
/** How near a click must come to a joint: a finger is wider than its mark. */
const NEAR = 30
/** Keys that follow each other are one step back. */
const KEYS_MS = 500

type Drag =
  | { what: 'point'; handle: Handle }
  | { what: 'draft' }
  | { what: 'stand'; stand: MapStand; track: number; atMm: number }
  | { what: 'view'; from: { x: number; y: number } }

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
  const [view, setView] = useState(WHOLE)
  const [picked, setPicked] = useState<Picked>(() => nothingPicked(given))
  // What is drawn or moved is written as it lies in the file: then it is shown that way, too.
  const isTurned =
    isNarrow(framePx) && !isDrawing(tool) && tool !== 'points' && gainsByTurning(boundsOf(given, false))
  const map = useMemo(() => (isTurned ? turnedMap(given) : given), [given, isTurned])
  useEffect(() => setView(WHOLE), [isTurned])
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
  /** So many of the drawing's units are one pixel on the screen. */
  const px = WIDTH / Math.max(framePx, 300) / view.zoom
  const x = (mm: number) => left + (mm - bounds.minX) * scale
  const y = (mm: number) => top + (mm - bounds.minY) * scale
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
  useEffect(() => {
    // An end that is no longer there, after undo, is none to draw on from.
    if (picked.from !== '' && !map.nodes.some((n) => n.id === picked.from)) pick({ from: '' })
    if (picked.into !== '' && !map.tracks.some((t) => t.name === picked.into)) pick({ into: '', across: '' })
  }, [map])
  useEffect(() => () => clearTimeout(timer.current), [])
  useWheelZoom(svg, height, setView)
  useMapPinch(frame, svg, height, setView, () => setDrag(undefined))

  const mmAt = (event: { clientX: number; clientY: number }): [number, number] => {
    const at = svg.current!.getScreenCTM()!.inverse()
    const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(at)
    return [Math.round((p.x - left) / scale + bounds.minX), Math.round((p.y - top) / scale + bounds.minY)]
  }
  /** The pointer may be faster than the page: each step goes on from the one before. */
  const draw = (step: typeof moveDraft, by: DrawingTool, at: [number, number]) =>
    setPicked((had) => ({ ...had, ...step(by, had, { map, reachMm: reachMm() }, at) }))
  /** A finger is no nearer on a small screen. */
  const reachMm = () => Math.max(SNAP, REACH_PX / (svg.current?.getScreenCTM()?.a ?? 1)) / scale

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
  const isPressed = (t: MapTrack) =>
    tool === 'district'
      ? picked.groups.includes(t.group)
      : tool === 'feeder' || tool === 'stand' || tool === 'ringing'
        ? picked.track === t.name
        : tool === 'turnout' || tool === 'crossing'
          ? picked.into === t.name || (tool === 'crossing' && picked.into !== '' && picked.across === t.name)
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
    if (!isDrawing(tool)) {
      if (event.target !== svg.current || view.zoom === 1) return
      svg.current!.setPointerCapture(event.pointerId)
      setDrag({ what: 'view', from: { x: event.clientX, y: event.clientY } })
      return
    }
    svg.current!.setPointerCapture(event.pointerId)
    setDrag({ what: 'draft' })
    draw(beginDraft, tool, mmAt(event))
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
    if (!drag) return
    setDrag(undefined)
    if (drag.what === 'view') return
    if (drag.what === 'point') setRefused(setValue(drag.handle.path, drag.handle.at) ?? '')
    else if (drag.what === 'draft') {
      if (isDrawing(tool)) news.value = draftSays(tool, picked)
    } else {
      setKeyed({ stand: drag.stand, track: drag.track, atMm: drag.atMm })
      void place(drag.stand, drag.track, drag.atMm)
    }
  }

  const lookOf = (t: MapTrack) => lookAt(map, layer, t)
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
        showWhole={() => setView(WHOLE)}
      />
      <FaultNote map={map} />
      <div class="wide" ref={frame} tabIndex={0} role="region" aria-label="Map of the railroad">
        <svg
          ref={svg}
          class={`track-map${isDrawing(tool) ? ' drawing' : view.zoom > 1 ? ' near' : ''}`}
          viewBox={`${view.x} ${view.y} ${WIDTH / view.zoom} ${height / view.zoom}`}
          role="group"
          data-scale={JSON.stringify({ mmX: x(0), mmY: y(0), perMm: scale })}
          aria-label={LAYERS[layer]}
          onPointerDown={down}
          onPointerMove={moveTo}
          onPointerUp={up}
          onPointerCancel={() => setDrag(undefined)}
        >
          {isDrawing(tool) && <Grid bounds={bounds} x={x} y={y} />}
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
          <Scenery
            map={map}
            layer={layer}
            tool={tool}
            view={view}
            px={px}
            perMm={scale}
            x={x}
            y={y}
            size={size}
          />
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
                  svg.current!.setPointerCapture(event.pointerId)
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
                svg.current!.setPointerCapture(event.pointerId)
                setDrag({ what: 'point', handle })
              }}
              onRefused={setRefused}
            />
          ))}
        </svg>
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
