/** The controller's regulator when it is fed from the track supply. */
import type { ControllerPowerDesign } from './design/index.js'

interface RegulatorType {
  linear: boolean
  junctionToAmbient: number
  junctionMaxC: number
  inputMaxVolt: number
  currentMaxAmp: number
  efficiency: number
  /** Input above the output at the least, V: NPN pass transistor, low-dropout, step-down converter. */
  dropoutVolt: number
}

/**
 * Typical figures of the packages, all from memory: give your part's own in the design file. SOT-223 on little
 * copper 90 K/W and 20 V (some of its kind take 15 V only), TO-220 without a sink 65 K/W.
 */
const TYPES: Readonly<Record<ControllerPowerDesign['regulator'], RegulatorType>> = {
  'linear SOT-223': {
    linear: true,
    junctionToAmbient: 90,
    junctionMaxC: 125,
    inputMaxVolt: 20,
    currentMaxAmp: 0.8,
    efficiency: 1,
    dropoutVolt: 1.3,
  },
  'linear TO-220': {
    linear: true,
    junctionToAmbient: 65,
    junctionMaxC: 125,
    inputMaxVolt: 35,
    currentMaxAmp: 1,
    efficiency: 1,
    dropoutVolt: 2.5,
  },
  switching: {
    linear: false,
    junctionToAmbient: 60,
    junctionMaxC: 125,
    inputMaxVolt: 28,
    currentMaxAmp: 1,
    efficiency: 0.85,
    dropoutVolt: 2,
  },
}

/** What a controller needs of the supply that feeds the rails, too. */
export interface ControllerFeed {
  /** Below this input it loses its voltage, V. */
  leastVolt: number
  /** Capacitor before its regulator, F; absent when not known. */
  reservoirFarad?: number
  /** How long it runs on by its capacitor when the supply's voltage is gone, us; absent without one. */
  holdUpUs?: number
}

/** Forward voltage of the diode before the capacitor, V; common practice, no source. */
const DIODE_VOLT = 0.7

/** Charge of the capacitor over the current, or its energy over the power, from the supply's lowest voltage under load. */
export function controllerFeed(c: ControllerPowerDesign & object, lowVolt: number): ControllerFeed {
  const type = TYPES[c.regulator]
  const leastVolt = c.voltage + type.dropoutVolt + DIODE_VOLT
  if (c.reservoir === undefined) return { leastVolt }
  const [from, to] = [Math.max(lowVolt, leastVolt) - DIODE_VOLT, leastVolt - DIODE_VOLT]
  const seconds = type.linear
    ? (c.reservoir * (from - to)) / c.current
    : (c.reservoir * (from ** 2 - to ** 2) * (c.efficiency ?? type.efficiency)) / (2 * c.voltage * c.current)
  return {
    leastVolt,
    reservoirFarad: c.reservoir,
    holdUpUs: c.current > 0 ? seconds * 1e6 : Number.POSITIVE_INFINITY,
  }
}

export interface RegulatorHeat {
  inputVolt: number
  /** Current it takes from the track supply, A. */
  inputAmp: number
  watt: number
  junctionC: number
  junctionMaxC: number
  /** Greatest of heat, input voltage and current as share of its rating. */
  share: number
  /** What that is. */
  limit: 'heat' | 'input voltage' | 'current'
}

/** Linear: P = (V_in − V_out) · I; switching: P = V_out · I · (1/efficiency − 1). */
export function regulatorHeat(
  c: ControllerPowerDesign & object,
  inputVolt: number,
  ambientC: number,
): RegulatorHeat {
  const type = TYPES[c.regulator]
  const efficiency = c.efficiency ?? type.efficiency
  const watt = type.linear
    ? Math.max(0, inputVolt - c.voltage) * c.current
    : c.voltage * c.current * (1 / efficiency - 1)
  const junctionMaxC = c.junctionMax ?? type.junctionMaxC
  const junctionC = ambientC + watt * (c.junctionToAmbient ?? type.junctionToAmbient)
  const shares = {
    heat:
      junctionMaxC > ambientC ? (junctionC - ambientC) / (junctionMaxC - ambientC) : Number.POSITIVE_INFINITY,
    'input voltage': inputVolt / (c.inputMax ?? type.inputMaxVolt),
    current: c.current / (c.currentMax ?? type.currentMaxAmp),
  }
  const [limit, share] = (Object.entries(shares) as [RegulatorHeat['limit'], number][]).reduce((a, b) =>
    b[1] > a[1] ? b : a,
  )
  const inputAmp = type.linear ? c.current : (c.voltage * c.current) / (efficiency * inputVolt)
  return { inputVolt, inputAmp, watt, junctionC, junctionMaxC, share, limit }
}
