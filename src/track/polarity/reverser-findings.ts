/** What the clauses of polarity and of gaps both say of a reverser that cannot help. */
import type { Finding } from '../../finding/index.js'
import { trackFindings } from '../findings.data.js'
import type { MixedReverser, ReversedStretch, SharedReverser } from './opposed-gaps.js'

export function stretchFinding({ run, gaps, stretchMm, train, trainMm }: ReversedStretch): Finding {
  return trackFindings.find('reversed-stretch-short', { run, gaps, stretchMm, train: train ?? '', trainMm })
}

export function sharedFinding({ run, stretches, trains }: SharedReverser): Finding {
  return trackFindings.find('reverser-shared', { run, stretches, trains })
}

export function mixedFinding({ run, section, beside }: MixedReverser): Finding {
  return trackFindings.find('reverser-beside', { run, section, beside })
}
