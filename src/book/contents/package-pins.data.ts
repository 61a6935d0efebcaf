/**
 * Numbers of package pins, all restated from memory of the data sheets: the sheet in hand decides. A board has names of
 * its own for them.
 */
import type { ChipId } from '../../controller/index.js'

export interface PackagePins {
  package: string
  /** Number by the name of the pin. */
  pins: Readonly<Record<string, number>>
  /** What else must be connected on a bare chip: numbers by name. */
  others: Readonly<Record<OtherPin, readonly number[]>>
}

/** Pins that every chip has beside those of its ports. */
export type OtherPin = 'supply' | 'ground' | 'analog supply' | 'reference' | 'reset' | 'crystal'

/** Names in the order of their numbers, beginning at a number; a `-` is a pin that carries no signal. */
function counted(first: number, names: string): [string, number][] {
  return names
    .split(' ')
    .map((name, i): [string, number] => [name, first + i])
    .filter(([name]) => name !== '-')
}

export const CHIP_PACKAGES: Readonly<Partial<Record<ChipId, readonly PackagePins[]>>> = {
  // Data sheet DS40001906C, pin configurations; from memory.
  atmega328p: [
    {
      package: 'DIP of 28 pins',
      pins: Object.fromEntries(
        counted(
          1,
          'PC6 PD0 PD1 PD2 PD3 PD4 - - PB6 PB7 PD5 PD6 PD7 PB0 PB1 PB2 PB3 PB4 PB5 - - - PC0 PC1 PC2 PC3 PC4 PC5',
        ),
      ),
      others: {
        supply: [7],
        ground: [8, 22],
        'analog supply': [20],
        reference: [21],
        reset: [1],
        crystal: [9, 10],
      },
    },
    {
      package: 'TQFP of 32 pins',
      pins: Object.fromEntries(
        counted(
          1,
          'PD3 PD4 - - - - PB6 PB7 PD5 PD6 PD7 PB0 PB1 PB2 PB3 PB4 PB5 - ADC6 - - ADC7 PC0 PC1 PC2 PC3 PC4 PC5 PC6 PD0 PD1 PD2',
        ),
      ),
      others: {
        supply: [4, 6],
        ground: [3, 5, 21],
        'analog supply': [18],
        reference: [20],
        reset: [29],
        crystal: [7, 8],
      },
    },
  ],
  // Data sheet DS40002211, pin configurations; from memory.
  atmega2560: [
    {
      package: 'TQFP of 100 pins',
      pins: Object.fromEntries([
        ...counted(1, 'PG5 PE0 PE1 PE2 PE3 PE4 PE5 PE6 PE7 - - PH0 PH1 PH2 PH3 PH4 PH5 PH6'),
        ...counted(19, 'PB0 PB1 PB2 PB3 PB4 PB5 PB6 PB7 PH7 PG3 PG4'),
        ...counted(35, 'PL0 PL1 PL2 PL3 PL4 PL5 PL6 PL7 PD0 PD1 PD2 PD3 PD4 PD5 PD6 PD7 PG0 PG1'),
        ...counted(53, 'PC0 PC1 PC2 PC3 PC4 PC5 PC6 PC7 - - PJ0 PJ1 PJ2 PJ3 PJ4 PJ5 PJ6 PG2'),
        ...counted(71, 'PA7 PA6 PA5 PA4 PA3 PA2 PA1 PA0 PJ7 - - PK7 PK6 PK5 PK4 PK3 PK2 PK1 PK0'),
        ...counted(90, 'PF7 PF6 PF5 PF4 PF3 PF2 PF1 PF0'),
      ]),
      others: {
        supply: [10, 31, 61, 80],
        ground: [11, 32, 62, 81, 99],
        'analog supply': [100],
        reference: [98],
        reset: [30],
        crystal: [34, 33],
      },
    },
  ],
  // Data sheet 7766, pinout; from memory.
  atmega32u4: [
    {
      package: 'TQFP of 44 pins',
      pins: Object.fromEntries(
        counted(
          1,
          'PE6 - - - - - - PB0 PB1 PB2 PB3 PB7 - - - - - PD0 PD1 PD2 PD3 PD5 - - PD4 PD6 PD7 PB4 PB5 PB6 PC6 PC7 PE2 - - PF7 PF6 PF5 PF4 PF1 PF0',
        ),
      ),
      others: {
        supply: [2, 14, 34],
        ground: [5, 15, 23, 35, 43],
        'analog supply': [24, 44],
        reference: [42],
        reset: [13],
        crystal: [17, 16],
      },
    },
  ],
}
