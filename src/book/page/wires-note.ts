/** How to read the wiring list, above it in every form of the book. */
export const WIRES_NOTE =
  'Each connection once. Two colours: a pair that runs together. Sizes without a mark are the smallest usual ones that carry the continuous current inside a case; leads of the station count with the length chosen for this book. “A left”: wire A goes to the rail on the left when you look along the section from its beginning to its end, as the table of the track has them; wire B to the other rail.'
