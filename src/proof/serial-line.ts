import type { LoadedDesign } from '../design/index.js'

/** The line on which commands come: its port, and its rate, baud, where the design gives one. */
export function serialLineOf({ design }: LoadedDesign): { port: number; baud: number } | undefined {
  const { firmware, traffic } = design
  if (!firmware?.commands || !traffic?.link) return undefined
  return { port: firmware.commands.port, baud: traffic.link.baud }
}
