/** What the map shows, and what a hand on it does. */
import { isDrawing, isSnapping } from '../draw/draft.js'
import { mapFault } from '../state/railroad.js'
import type { TrackMapData } from '../worker/map-data.js'
import type { Layer } from './map-marks.js'

export type Tool =
  | 'short'
  | 'points'
  | 'section'
  | 'curve'
  | 'turnout'
  | 'crossing'
  | 'bus'
  | 'feeder'
  | 'joint'
  | 'district'
  | 'stand'
  | 'ringing'

/** What an empty map is begun with. */
export const FIRST_TOOLS: readonly Tool[] = ['section', 'curve']

export const LAYERS: Record<Layer, string> = {
  planned: 'Voltage, trains as parked',
  worst: 'Voltage, worst-case trains',
  short: 'Short-circuit current',
  district: 'Districts',
  polarity: 'Polarity',
}

export const TOOLS: Record<Tool, { name: string; does: string }> = {
  short: { name: 'Test a short', does: 'Short' },
  points: { name: 'Move vertices', does: 'Short' },
  section: { name: 'Add section', does: 'Short' },
  curve: { name: 'Add curve', does: 'Short' },
  turnout: { name: 'Add turnout', does: 'Put a turnout in' },
  crossing: { name: 'Add crossing', does: 'Put a crossing in' },
  bus: { name: 'Add bus run', does: 'Short' },
  feeder: { name: 'Feeders', does: 'Feed' },
  joint: { name: 'Gaps and joiners', does: 'Short' },
  district: { name: 'Set districts', does: 'Choose' },
  stand: { name: 'Place trains and loads', does: 'Place on' },
  ringing: { name: 'Ringing at a place', does: 'Edge at' },
}

export const HINT: Partial<Record<Tool, string>> = {
  short:
    'Choose a section to see what a short there would do; arrow keys move between sections. Zoom with + and −, Ctrl and the wheel, or two fingers; drag the background to pan.',
  points:
    'Drag a vertex, or move it with the arrow keys. Only the drawing changes; lengths stay as written. Sections that the file writes as one row move together.',
}

interface MapToolsProps {
  map: TrackMapData
  layer: Layer
  setLayer(layer: Layer): void
  tool: Tool
  setTool(tool: Tool): void
  isWhole: boolean
  zoomBy(factor: number): void
  showWhole(): void
}

export function MapTools({ map, layer, setLayer, tool, setTool, isWhole, zoomBy, showWhole }: MapToolsProps) {
  const isEmpty = map.tracks.length === 0
  const tools = (Object.keys(TOOLS) as Tool[]).filter((key) => !isEmpty || FIRST_TOOLS.includes(key))
  return (
    <div class="map-tools">
      {!isEmpty && (
        <span>
          <label for="map-layer">Map shows</label>{' '}
          <select id="map-layer" value={layer} onChange={(e) => setLayer(e.currentTarget.value as Layer)}>
            {(Object.keys(LAYERS) as Layer[]).map((key) => (
              <option value={key}>{LAYERS[key]}</option>
            ))}
          </select>
        </span>
      )}
      <span>
        <label for="map-tool">Tool</label>{' '}
        <select id="map-tool" value={tool} onChange={(e) => setTool(e.currentTarget.value as Tool)}>
          {tools.map((key) => (
            <option value={key}>{TOOLS[key].name}</option>
          ))}
        </select>
      </span>
      <span class="acts" role="group" aria-label="View of the map">
        <button type="button" aria-label="Zoom out" disabled={isWhole} onClick={() => zoomBy(1 / 1.6)}>
          −
        </button>
        <button type="button" aria-label="Fit the whole map" disabled={isWhole} onClick={showWhole}>
          Fit
        </button>
        <button
          type="button"
          aria-label="Zoom in"
          onClick={() => zoomBy(1.6)}
          title="Ctrl and the wheel zoom; drag the background to pan"
        >
          +
        </button>
      </span>
      {isDrawing(tool) && (
        <label>
          <input
            type="checkbox"
            checked={isSnapping.value}
            onChange={(e) => (isSnapping.value = e.currentTarget.checked)}
          />{' '}
          Snap to grid
        </label>
      )}
      {!isEmpty && (
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
      )}
    </div>
  )
}

/** What the fault that the map is shown with changes. */
export function FaultNote({ map }: { map: TrackMapData }) {
  if (!map.fault) return null
  return (
    <div class="card" role="status">
      {map.fault.says.map((s) => (
        <p>{s}</p>
      ))}
      {map.fault.says.length === 1 && <p>No district's lowest voltage or weakest short changes.</p>}
    </div>
  )
}
