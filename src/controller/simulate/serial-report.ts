/** What went over a serial port in a run. */
import type { Usart } from './peripherals/usart.js'

export interface SerialReport {
  name: string
  /** Baud rate set at the end. */
  baud: number
  sent: number
  received: number
  /** Bytes the program did not fetch in time, or that came while the receiver was off or framed wrong. */
  overrun: number
  whileOff: number
  frameErrors: number
  /** The two rates farthest apart at which a byte came and was to be received, baud. */
  rates?: { line: number; own: number } | undefined
  /** First bytes sent, as text; other than printable characters as `\xHH`. */
  text: string
}

export function serialReport(usart: Usart): SerialReport {
  const { sent, received, overrun, whileOff, frameErrors, rates } = usart
  const text = usart.text
    .map((b) =>
      b >= 32 && b < 127
        ? String.fromCharCode(b)
        : (ESCAPES[b] ?? `\\x${b.toString(16).toUpperCase().padStart(2, '0')}`),
    )
    .join('')
  return {
    name: usart.model.name,
    baud: usart.baud,
    sent,
    received,
    overrun,
    whileOff,
    frameErrors,
    rates,
    text,
  }
}

const ESCAPES: Record<number, string> = { 9: '\\t', 10: '\\n', 13: '\\r' }
