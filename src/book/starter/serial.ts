/** The serial line of the starter firmware: which port, how fast. */
import type { SimulatedChip } from '../../controller/index.js'
import type { LoadedDesign } from '../../design/index.js'
import type { Refuse } from './plan.js'

export interface SerialPlan {
  /** Number of the port; also the one in the design's `commands`. */
  port: number
  baud: number
  /** Value of UBRR, and whether the divider before it is halved (U2X). */
  divider: number
  doubled: boolean
  /** What the port makes of the baud rate, share off. */
  error: number
  receiveVector: string
  pins: readonly string[]
}

/** Pins of each serial port, receive first. Data sheets of the three chips, pin configurations, from memory. */
export const SERIAL_PINS: Readonly<Record<SimulatedChip, Readonly<Record<number, readonly string[]>>>> = {
  atmega328p: { 0: ['PD0', 'PD1'] },
  atmega2560: { 0: ['PE0', 'PE1'], 1: ['PD2', 'PD3'], 2: ['PH0', 'PH1'], 3: ['PJ0', 'PJ1'] },
  atmega32u4: { 1: ['PD2', 'PD3'] },
}

/** The port that the starter firmware takes. */
const PORTS: Readonly<Record<SimulatedChip, Pick<SerialPlan, 'port' | 'receiveVector'>>> = {
  atmega328p: { port: 0, receiveVector: 'USART_RX_vect' },
  atmega2560: { port: 0, receiveVector: 'USART0_RX_vect' },
  atmega32u4: { port: 1, receiveVector: 'USART1_RX_vect' },
}

const DEFAULT_BAUD = 38_400
/** Half of what a receiver of ten bits can bear, so that the other side may be off too: common practice, no source. */
const MOST_ERROR = 0.025
/** Faster than this the main loop could not keep up with the ring of 64 bytes while it is busy for 5 ms. */
const MOST_BAUD = 115_200

export function serialPlan(
  { traffic, controller }: LoadedDesign['design'],
  chip: SimulatedChip | undefined,
  refuse: Refuse,
): SerialPlan {
  const baud = traffic?.link?.baud ?? DEFAULT_BAUD
  const path = ['traffic', 'link', 'baud']
  const { frequency } = controller.clock
  const ways = [false, true].map((doubled) => {
    const per = doubled ? 8 : 16
    const divider = Math.max(0, Math.round(frequency / (per * baud)) - 1)
    const error = frequency / (per * (divider + 1)) / baud - 1
    return { doubled, divider, error }
  })
  // The slower sampling hears better through noise (data sheet); the doubled one only where it is nearer.
  const best = Math.abs(ways[0]!.error) <= MOST_ERROR ? ways[0]! : ways[1]!
  if (chip && baud > MOST_BAUD) refuse(path, `${baud} baud; expected at most ${MOST_BAUD}`)
  if (chip && (Math.abs(best.error) > MOST_ERROR || best.divider > 4095))
    refuse(
      path,
      `${baud} baud is ${(best.error * 100).toFixed(1)} % off at this clock; expected a rate within ${MOST_ERROR * 100} %`,
    )
  if (!chip) return { port: 0, receiveVector: '', pins: [], ...best, baud }
  const own = PORTS[chip]
  return { ...own, pins: SERIAL_PINS[chip][own.port]!, ...best, baud }
}
