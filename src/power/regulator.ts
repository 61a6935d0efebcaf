/** The controller's regulator when it is fed from the track supply. */
import type { ControllerPowerDesign } from './design/index.js'

interface RegulatorType {
  linear: boolean
  junctionToAmbient: number
  junctionMaxC: number
  inputMaxVolt: number
  currentMaxAmp: number
  efficiency: number
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
  },
  'linear TO-220': {
    linear: true,
    junctionToAmbient: 65,
    junctionMaxC: 125,
    inputMaxVolt: 35,
    currentMaxAmp: 1,
    efficiency: 1,
  },
  switching: {
    linear: false,
    junctionToAmbient: 60,
    junctionMaxC: 125,
    inputMaxVolt: 28,
    currentMaxAmp: 1,
    efficiency: 0.85,
  },
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
