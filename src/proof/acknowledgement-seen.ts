/** Whether the firmware of a service track can see an acknowledgement at all. */
import type { SimulatedController } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import { allStages, controllerPin } from '../power/index.js'
import { notShown, type Statement } from '../standard/index.js'
import type { HeardPacket } from '../traffic/index.js'
import { BEHAVIOUR_FINDINGS as SAYS } from './behaviour-findings.data.js'

/** A service track whose current is never read cannot see an acknowledgement. */
export function acknowledgementStatements(
  { design: { power, signal } }: LoadedDesign,
  machine: SimulatedController,
  packets: ReadonlyMap<string, readonly HeardPacket[]>,
  { source, file }: { source: string; file: string },
): Statement[] {
  if (!power) return []
  return allStages(power, signal).flatMap((stage): Statement[] => {
    const output = stage.district.output
    if (output === undefined || signal.outputs[output]?.mode !== 'service') return []
    const pin = stage.sensePin && controllerPin(stage.sensePin)
    const channel = pin === undefined ? undefined : machine.analogChannel(pin)
    if (pin === undefined || channel === undefined) return []
    const asked = (packets.get(output) ?? []).some(({ valid, bytes }) => valid && isServiceInstruction(bytes))
    if (!asked) return []
    if ((machine.adc.conversionsOf.get(channel) ?? 0) > 0) {
      const finding = SAYS.find('acknowledgement-not-tried', { source, pin })
      return [notShown('ack-detect', 'simulated', finding, { about: stage.name })]
    }
    const finding = SAYS.find('acknowledgement-not-read', { source, pin })
    return [
      {
        clause: 'ack-detect',
        origin: 'simulated',
        about: stage.name,
        verdict: 'broken',
        value: { low: 0, high: 0, unit: 'share' },
        margin: -1,
        where: { file, channel: pin },
        because: finding.sentence,
        finding,
      },
    ]
  })
}

/** First byte 112 to 127: a service-mode instruction, not a reset or an idle (S-9.2.3:2012 C). */
function isServiceInstruction(bytes: Uint8Array): boolean {
  return bytes[0]! >= 112 && bytes[0]! <= 127
}
