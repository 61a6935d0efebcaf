/** The design file as a whole: the rooms' own parts under their keys. A room joins with one line here. */
import { captureShape } from '../capture/index.js'
import { controllerShape, firmwareShape } from '../controller/index.js'
import { benchNotesShape } from '../meter/index.js'
import { powerShape } from '../power/index.js'
import { shape, type Value } from '../shape/index.js'
import { signalShape } from '../signal/index.js'
import { requireShape, scaleShape, standardShape } from '../standard/index.js'
import { rollingStockShape, trackShape } from '../track/index.js'
import { fleetShape, trafficShape } from '../traffic/index.js'
import { variantsShape } from './variants-shape.js'
import { DESIGN_VERSION } from './versions.js'

/** One station and its railroad: a design without its variants. */
export const stationShape = shape({
  kind: 'record',
  title: 'design file',
  help: 'One station and its railroad.',
  keys: {
    halfbit: {
      kind: 'number',
      integer: true,
      min: DESIGN_VERSION,
      max: DESIGN_VERSION,
      title: 'version of the format',
      example: DESIGN_VERSION,
    },
    name: { kind: 'text', title: 'name', maxLength: 200, example: 'Our exhibition layout' },
    about: {
      kind: 'text',
      title: 'about',
      maxLength: 10_000,
      optional: true,
      example: 'Who built it, and when.',
    },
    standard: standardShape,
    scale: scaleShape,
    require: requireShape,
    controller: controllerShape,
    signal: signalShape,
    firmware: { ...firmwareShape, optional: true },
    captures: { kind: 'list', title: 'captures', of: captureShape, optional: true, maxItems: 100 },
    power: { ...powerShape, optional: true },
    track: { ...trackShape, optional: true },
    rollingStock: { ...rollingStockShape, optional: true },
    fleet: { ...fleetShape, optional: true },
    traffic: { ...trafficShape, optional: true },
    benchNotes: { ...benchNotesShape, optional: true },
  },
})

/** A design file: the station, and what its variants change of it. */
export const designShape = {
  ...stationShape,
  keys: { ...stationShape.keys, variants: variantsShape(stationShape.keys) },
}

/** A valid design with defaults filled in and quantities in base units; of a variant, with what it changes. */
export type Design = Value<typeof stationShape>
