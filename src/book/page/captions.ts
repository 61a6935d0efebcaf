/** What stands above the tables and lists of the book, the same in every form of it. */
export const CAPTIONS = {
  parts: 'What each part must be able to do. Any maker’s part will do that has these figures.',
  orders: 'Single wire, all runs together, nothing added for waste.',
  diagram:
    'Wires are joined at terminals only; where lines cross they are not connected. A thick line is a pair. Numbers as in the wiring list.',
  track:
    'Each section and each leg of a turnout, from where it begins to where it ends. Rails that are cut carry an insulated joiner; what meets without a cut carries current.',
  locomotives:
    'The figures of this book hold for these. Where a decoder is set otherwise, stopping distances and what happens without packets are others.',
  wires:
    'Each connection is listed once. Two colours mean a pair that runs together, plus or wire A first. Sizes without a mark are the smallest common ones that carry, inside a case, all that their fuse or supply lets through continuously; leads inside the station have the length chosen for this book. “A left”: wire A goes to the rail on the left when you look along the section from its beginning to its end, as listed in the table of the track; wire B to the other rail.',
  pins: 'Pins of the controller. Numbers of pins on the chip are from memory of its data sheet: look them up there before you solder. A board has its own names for them.',
  faults:
    'No clause is judged by these. A fuse, or a supply with a lower limit, protects without firmware and without the driver.',
  registers: 'As the timers are set once, at start.',
  constants:
    'The same figures as in the header of the starter firmware: signal, what is sent when, trips, acknowledgement, serial line. Other firmware must keep to them too.',
} as const
