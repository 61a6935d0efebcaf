/** Below the map: its key, what the tool is for, its form, and what is chosen. */
import type { MapTrack } from '../worker/map-data.js'
import { type FormProps, Refused } from './map-fields.js'
import { FORMS } from './map-form-of.js'
import { ChosenTrack } from './map-forms.js'
import { DistrictKeys, Keys, type Layer } from './map-marks.js'
import { MarkKeys } from './map-scenery.js'
import { HINT, type Tool } from './map-tools.js'
import { RingingForm } from './ringing.js'

interface BelowMapProps extends FormProps {
  layer: Layer
  tool: Tool
  refused: string
  track: MapTrack | undefined
  source: string
}

export function BelowMap({ map, layer, tool, picked, pick, refused, track, source }: BelowMapProps) {
  const Form = FORMS[tool]
  return (
    <>
      <p class="quiet">
        {layer === 'district' ? <DistrictKeys map={map} /> : <Keys map={map} layer={layer} />}
        <MarkKeys map={map} layer={layer} />
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
      {track && (tool === 'short' || tool === 'points') && <ChosenTrack track={track} map={map} />}
    </>
  )
}
