/** Scales of model railroads. */
/**
 * Scales, their ratio 1 : n (NEM 010; the scale 0 ratio is 1 : 45 there, 1 : 48 in NMRA S-1.2; from memory) and the
 * column of the voltage tables they belong to. TT is named in no column: it takes the H0 one.
 */
export const SCALES = {
  Z: { ratio: 220, column: 'small' },
  N: { ratio: 160, column: 'small' },
  TT: { ratio: 120, column: 'middle' },
  H0: { ratio: 87, column: 'middle' },
  S: { ratio: 64, column: 'middle' },
  '0': { ratio: 45, column: 'middle' },
  '1': { ratio: 32, column: 'large' },
  G: { ratio: 22.5, column: 'large' },
} as const

export type Scale = keyof typeof SCALES
