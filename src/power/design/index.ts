/**
 * The power stage's part of the design file: supplies, drivers, power districts with their protection and
 * current sense, and where the controller's own power comes from. Wires, rails, trains and sections are
 * `track/`'s; they refer to the districts named here.
 */
import { shape, type Value } from '../../shape/index.js'
import { controllerPowerShape } from './controller.js'
import { districtShape } from './district.js'
import { driverShape } from './driver.js'
import { supplyShape } from './supply.js'

/** `power:` of the design file. */
export const powerShape = shape({
  kind: 'record',
  title: 'power',
  help: 'Supplies, drivers, power districts, and how the controller is fed.',
  keys: {
    ambient: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'air around the station',
      help: 'Inside its case on a warm day.',
      min: -40,
      max: 100,
      default: '35 C',
    },
    supplies: { kind: 'named', title: 'supplies', of: supplyShape, minItems: 1, maxItems: 64 },
    drivers: { kind: 'named', title: 'drivers', of: driverShape, minItems: 1, maxItems: 64 },
    districts: { kind: 'named', title: 'power districts', of: districtShape, minItems: 1, maxItems: 64 },
    controller: controllerPowerShape,
  },
})

export type PowerDesign = Value<typeof powerShape>
export type { AcknowledgementDesign } from './acknowledgement.js'
export type { ControllerPowerDesign } from './controller.js'
export type { DistrictDesign } from './district.js'
export type { BoardPin, CoolingDesign, DriverDesign } from './driver.js'
export type { DriverFigures } from './driver-figures.js'
export type { SenseDesign, TripDesign } from './protection.js'
export type { SupplyDesign } from './supply.js'
