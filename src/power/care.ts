/** The cautions that go with every fuse, supply, wire and trip level, in terminal, page and JSON alike. */

export const CARE = {
  calculation: 'Every figure here is a calculation; the reading on the bench decides.',
  codes: 'Local electrical codes come first.',
  supply:
    'Use a certified supply with extra-low output voltage; leave mains wiring to a licensed electrician.',
  fuse: 'Fuse each district, at the supply end of its wires.',
  outputs:
    'Never join the outputs of two boosters, not even over one metal wheel across a gap, unless their districts are designed for it.',
  trip: 'Before trains run, short every district at its farthest place with a coin: it must trip at once.',
  heat: 'Drivers and sinks get hot enough to burn skin and plastic: give them air and keep cables off.',
} as const

export type Care = keyof typeof CARE

/** Sentences for the kinds of figures that are given; always with the codes and the bench. */
export function careFor(...kinds: Care[]): string[] {
  return [...new Set<Care>([...kinds, 'codes', 'calculation'])].map((kind) => CARE[kind])
}
