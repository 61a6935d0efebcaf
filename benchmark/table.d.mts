export interface Side {
  samples: number[]
  failed?: string
}

export interface Result extends Side {
  row: string
  figure: string
  referee?: Side
  against?: Side
}

export interface Figure {
  id: string
  work: string
  unit: string
  better: 'more' | 'less'
  referee?: { name: string; as: 'times' | 'share' }
  wanted?: { of?: 'now' | 'referee' | 'commit'; atLeast?: number; atMost?: number; text?: string }
}

export function tableText(
  results: Result[],
  rows: { name: string; figures: Figure[] }[],
  against?: string,
): string
