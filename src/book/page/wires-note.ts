/** How to read the wiring list, above it in every form of the book. */
export const WIRES_NOTE =
  'Each connection is listed once. Two colours mean a pair that runs together. Sizes without a mark are the smallest common ones that carry the continuous current inside a case; leads inside the station have the length chosen for this book. “A left”: wire A goes to the rail on the left when you look along the section from its beginning to its end, as listed in the table of the track; wire B to the other rail.'
