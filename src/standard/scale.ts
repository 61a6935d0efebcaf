/**
 * Scales of model railroads: ratio 1 : n and track gauge (NEM 010; from memory), and the column of the voltage tables they
 * belong to. TT is named in no column: it takes the H0 one.
 */
export const SCALES = {
  Z: { gaugeMm: 6.5, ratio: 220, column: 'small' },
  N: { gaugeMm: 9, ratio: 160, column: 'small' },
  TT: { gaugeMm: 12, ratio: 120, column: 'middle' },
  H0: { gaugeMm: 16.5, ratio: 87, column: 'middle' },
  S: { gaugeMm: 22.5, ratio: 64, column: 'middle' },
  '0': { gaugeMm: 32, ratio: 45, column: 'middle' },
  '1': { gaugeMm: 45, ratio: 32, column: 'large' },
  G: { gaugeMm: 45, ratio: 22.5, column: 'large' },
} as const

export type Scale = keyof typeof SCALES

/** Ratios that the NMRA gives otherwise than NEM 010: S-1.2, scale O (from memory). */
const NMRA_RATIO: Partial<Record<Scale, number>> = { '0': 48 }

/** How many times smaller than the original a model of the scale is, by the standards of the profile. */
export function scaleRatio(scale: Scale, profile: 'nmra' | 'rcn'): number {
  return (profile === 'nmra' ? NMRA_RATIO[scale] : undefined) ?? SCALES[scale].ratio
}
