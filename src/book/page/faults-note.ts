/** What the list of single faults is, above it in every form of the book. */
export const SINGLE_FAULTS =
  'No clause is judged by these. A fuse, or a supply with a lower limit, protects without firmware and without the driver.'
