/**
 * The steady temperature of a conductor that carries a current continuously: the heat balance of I²·R(T) against what the
 * surface loses by natural convection (Churchill and Chu 1975, horizontal cylinder) and by radiation.
 */
import type { Conductor } from '../conductors/conductor.js'
import { AIR, BUNDLE, BUNDLE_W_PER_M_K, EMISSIVITY, PVC_W_PER_M_K, STEFAN_BOLTZMANN } from './surface.data.js'

/** `alone`: a pair of wires in free air. `bundled`: three pairs together, all carrying the same. Rails lie in the open. */
export type Laying = 'alone' | 'bundled'

/** What a metre of surface loses at a temperature above the air, W/m. */
export function lostWattPerM(
  surfaceC: number,
  airC: number,
  perimeterMm: number,
  heightMm: number,
  emissivity: number,
): number {
  const rise = surfaceC - airC
  if (rise <= 0) return 0
  return heatPerM2K(surfaceC, airC, heightMm, emissivity) * (perimeterMm / 1000) * rise
}

/** Of the Prandtl number in Churchill and Chu's formula. */
const PRANDTL_TERM = (1 + (0.559 / AIR.prandtl) ** (9 / 16)) ** (8 / 27)

/** Convection and radiation together, W/(m²·K). */
function heatPerM2K(surfaceC: number, airC: number, heightMm: number, emissivity: number): number {
  const metres = heightMm / 1000
  const [hot, cold] = [surfaceC + 273.15, airC + 273.15]
  const rayleigh =
    (9.81 * 2 * (hot - cold) * metres ** 3) / (hot + cold) / (AIR.viscosityM2PerS * AIR.diffusivityM2PerS)
  const nusselt = (0.6 + (0.387 * rayleigh ** (1 / 6)) / PRANDTL_TERM) ** 2
  const convection = (nusselt * AIR.wattPerMK) / metres
  const radiation = emissivity * STEFAN_BOLTZMANN * (hot * hot + cold * cold) * (hot + cold)
  return convection + radiation
}

export interface Surroundings {
  airC: number
  laying: Laying
  insulationMm: number
}

/** Beyond this nothing is left of any insulation, °C. */
const HOTTEST_C = 1000

/** Temperatures found last: an edit leaves most conductors and currents as they were. */
const lastTemperatures = new Map<string, number>()
const MOST_REMEMBERED = 1000

/**
 * @param ohmPerM of one conductor at 20 °C
 * @returns °C; at most 1000
 */
export function steadyC(c: Conductor, ohmPerM: number, amp: number, at: Surroundings): number {
  const { openMm, heightMm } = c.rail ?? {}
  const key = [
    ...[openMm, heightMm, c.diameterMm, c.temperaturePerK, ohmPerM, amp],
    ...[at.airC, at.laying, at.insulationMm],
  ].join(' ')
  const had = lastTemperatures.get(key)
  if (had !== undefined) return had
  const found = findSteadyC(c, ohmPerM, amp, at)
  lastTemperatures.set(key, found)
  const oldest = lastTemperatures.keys().next().value
  if (lastTemperatures.size > MOST_REMEMBERED && oldest !== undefined) lastTemperatures.delete(oldest)
  return found
}

function findSteadyC(c: Conductor, ohmPerM: number, amp: number, at: Surroundings): number {
  const watt = (celsius: number) => amp * amp * ohmPerM * (1 + c.temperaturePerK * (celsius - 20))
  const spare = (conductorC: number) => carried(c, conductorC, at) - watt(conductorC)
  if (!(spare(HOTTEST_C) >= 0)) return HOTTEST_C
  return rootBetween(spare, at.airC, HOTTEST_C)
}

/** Temperatures are found to this, K. */
const NEAR_K = 1e-8

/**
 * Where a rising function is nought, by false position with the Illinois change (Dowell and Jarratt 1971): the kept end
 * counts half, so that both ends close in.
 */
function rootBetween(f: (c: number) => number, from: number, to: number): number {
  let [low, high] = [from, to]
  let [below, above] = [f(low), f(high)]
  if (below >= 0) return low
  let side = 0
  let last = Number.NaN
  for (let round = 0; round < 100 && high - low > NEAR_K; round++) {
    const c = (low * above - high * below) / (above - below)
    const here = f(c)
    // So small a step moves nothing any more.
    if (here === 0 || Math.abs(c - last) < NEAR_K) return c
    last = c
    if (here > 0) {
      ;[high, above] = [c, here]
      if (side === 1) below /= 2
      side = 1
    } else {
      ;[low, below] = [c, here]
      if (side === -1) above /= 2
      side = -1
    }
  }
  return high
}

/** What one conductor gets rid of while it has this temperature, W/m. */
function carried(c: Conductor, conductorC: number, at: Surroundings): number {
  const { airC } = at
  if (c.rail) return lostWattPerM(conductorC, airC, c.rail.openMm, c.rail.heightMm, EMISSIVITY.rail)
  const outer = c.diameterMm + 2 * at.insulationMm
  // Kelvin per watt and metre of each wire between its copper and the surface.
  const insulation = Math.log(outer / c.diameterMm) / (2 * Math.PI * PVC_W_PER_M_K)
  const bundled = at.laying === 'bundled'
  const wires = bundled ? BUNDLE.wires : 2
  // Two wires side by side lose their heat through the outline of both.
  const round = bundled ? outer * Math.sqrt(wires / BUNDLE.filled) : (outer * (Math.PI + 2)) / Math.PI
  const inside = insulation + (bundled ? wires / (4 * Math.PI * BUNDLE_W_PER_M_K) : 0)
  // The surface is where what comes through the insulation is what the surface loses.
  if (conductorC <= airC) return 0
  const surfaceC = rootBetween(
    (surface) =>
      (lostWattPerM(surface, airC, Math.PI * round, round, EMISSIVITY.insulation) / wires) * inside -
      (conductorC - surface),
    airC,
    conductorC,
  )
  return (conductorC - surfaceC) / inside
}

/** The current that heats a conductor to a temperature, A. */
export function ampacity(c: Conductor, ohmPerM: number, celsius: number, at: Surroundings): number {
  return Math.sqrt(carried(c, celsius, at) / (ohmPerM * (1 + c.temperaturePerK * (celsius - 20))))
}
