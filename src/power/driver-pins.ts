/** Which pins of a driver board serve a district: those of its output and channels, and the one that carries its current. */
import type { BoardPin, DistrictDesign, DriverDesign } from './design/index.js'
import type { DistrictStage } from './stage.js'

/** Where a pin goes on the controller; `undefined` where it is tied or goes nowhere. */
export const controllerPin = (pin: BoardPin): string | undefined =>
  pin.tied === undefined ? (pin.wired ?? pin.fixed) : undefined

/** Pins of the driver that serve a district. */
export function pinsServing({
  driver,
  output,
  channels,
}: Pick<DistrictStage, 'driver' | 'output' | 'channels'>): BoardPin[] {
  return (driver.pins ?? []).filter(
    (p) =>
      (p.output === undefined || p.output === output) &&
      (p.channel === undefined || channels.includes(p.channel)),
  )
}

/** A district of a driver, as far as its sensor goes. */
export interface Sensed {
  name: string
  district: DistrictDesign
  driver: DriverDesign
  output?: string
  channels: number[]
}

/** A shunt in the return, or the driver's own sense output: all that the same channels feed flows through it. */
const isOfChannels = ({ district: { sense } }: Sensed) =>
  sense?.kind === 'mirror' || (sense?.kind === 'shunt' && sense.sees === 'both')

/** Districts of one driver that have a sensor, those that share one together, in the order of the driver's channels. */
function sensorsOf(districts: readonly Sensed[]): Sensed[][] {
  const sensors = new Map<string, Sensed[]>()
  for (const d of districts) {
    if (!d.district.sense) continue
    const key = isOfChannels(d) ? `channels ${[...d.channels].sort((a, b) => a - b).join()}` : `own ${d.name}`
    sensors.set(key, [...(sensors.get(key) ?? []), d])
  }
  return [...sensors.values()].sort((a, b) => Math.min(...a[0]!.channels) - Math.min(...b[0]!.channels))
}

/**
 * The sense pin of each district of one driver: the one that names its channel or output, else the first that is left, in
 * the order of the channels. One pin carries the current of one sensor.
 * @param districts all of this driver
 * @returns by district; absent where none is left for it
 */
export function sensePins(districts: readonly Sensed[]): Map<string, BoardPin> {
  const found = new Map<string, BoardPin>()
  const sensors = sensorsOf(districts)
  const left = (districts[0]?.driver.pins ?? []).filter(
    (p) => p.role === 'sense' && controllerPin(p) !== undefined,
  )
  const named = (p: BoardPin) => Number(p.channel !== undefined) + Number(p.output !== undefined)
  for (const least of [2, 1, 0])
    for (const sensor of sensors) {
      if (found.has(sensor[0]!.name)) continue
      const i = left.findIndex((p) => named(p) >= least && sensor.some((d) => pinsServing(d).includes(p)))
      if (i < 0) continue
      const [pin] = left.splice(i, 1)
      for (const d of sensor) found.set(d.name, pin!)
    }
  return found
}

/** The first of the districts that share the sensor of this one, where that is another. */
export function sensorOwner(districts: readonly Sensed[], name: string): string | undefined {
  const [first] = sensorsOf(districts).find((list) => list.some((d) => d.name === name)) ?? []
  return first && first.name !== name ? first.name : undefined
}

/** Districts whose current reaches no pin, although the driver has pins that carry one. */
export function unreadDistricts(districts: readonly Sensed[]): Sensed[] {
  const found = sensePins(districts)
  return found.size === 0 ? [] : districts.filter((d) => d.district.sense && !found.has(d.name))
}
