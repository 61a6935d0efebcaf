/**
 * Drivers by name. Every figure carries how it is known: `confirmed` was seen in the named data sheet,
 * `from memory` was not and should be checked against the current edition, `derived` follows by arithmetic.
 * Custom parts and corrections go into the design file's `figures`, which go before these.
 */
import type { FactStatus } from '../standard/index.js'

export interface Fact {
  value: number
  status: FactStatus
}

/** A driver at its own current limit: it holds the current, switches off and tries again, or stays off. */
export type AtLimit = 'holds' | 'retries' | 'latches'

/** A bridge with one input for each side while both are low: its outputs are joined (brake), or open (coast). */
export type BothLow = 'joined' | 'open'
/** The same while both are high; `short`: both sides conduct at once, as in a bridge of single transistors without a logic of its own. */
export type BothHigh = BothLow | 'short'

/** Saturation voltage of both conducting switches together. */
export interface SaturationPoint {
  atAmp: number
  typicalVolt: number
  mostVolt: number
}

/** What a terminal is joined with, unless a pin of the design is wired to it. */
export interface Tie {
  terminal: string
  to: string
}

/** One input for the polarity, or one for each leg. */
export interface DrivenWay {
  /** Terminal by the role that a design gives to its pin. */
  pins: Partial<Record<'direction' | 'inverted' | 'enable' | 'fault' | 'sense', string>>
  ties: readonly Tie[]
}

/** A figure the sheet does not give, or that is not known here, is absent: what needs it is then not shown. */
export interface DriverPart {
  name: string
  sheet: string
  about: string
  kind: 'mosfet' | 'bipolar'
  /** Full bridges in one package; 0.5 for a half bridge. */
  bridgesPerPackage: number
  figures: Partial<Record<FigureName, Fact>>
  /** How it takes the signal: one input for the polarity, or one for each leg. Absent when not known. From memory. */
  inputs?: 'one' | 'pair'
  /** What it does with its outputs while both of two inputs are low; absent when not known. From memory, but of the L298 and the DRV8871. */
  bothLow?: BothLow
  /** Terminals of its package in the order of their numbers; from memory of its data sheet. */
  terminals?: { package: string; pins: readonly string[] }
  /** Which of its terminals are + and −, and its outputs in the order of A and B; from memory of its data sheet. */
  power?: { plus: string; minus: string; outA: string; outB: string }
  /** Its inputs, by how it is driven; from memory of its data sheet. A way that is absent is not possible. */
  driven?: Partial<Record<'one' | 'pair', DrivenWay>>
  /** Terminals that are the same in both ways, and what each is joined with; from memory of its data sheet. */
  ties?: readonly Tie[]
  /** Level that an open logic input takes by a pull resistor inside; absent when not known. From memory. */
  inputPull?: 'low' | 'high' | 'none'
  /** What it does at its own current limit; absent when not known, or when a pin of it decides. From memory. */
  atLimit?: AtLimit
  /** Its sheet gives "internally limited" for its greatest current, in place of a peak that would harm it; from memory. */
  limitsItself?: true
  saturation?: { points: readonly SaturationPoint[]; status: FactStatus }
  /** What protects it and how it behaves; for people. */
  protections: string
  /** `no`: its own timing spoils the signal. `doubtful`: figures are missing that decide it. */
  suits: 'yes' | 'no' | 'doubtful'
  remark: string
  /**
   * Why no station with it is shown to be sound, whatever the supply and the cooling, until what is missing is measured or read in
   * its data sheet, and given in the design's `figures`.
   */
  neverSound?: string
}

export const FIGURE_NAMES = [
  'supplyMinVolt',
  'supplyMaxVolt',
  'continuousAmp',
  'continuousParallelAmp',
  'peakAmp',
  'peakUs',
  'highOhm',
  'highOhmMax',
  'lowOhm',
  'lowOhmMax',
  'ohmPerKelvin',
  'quiescentAmp',
  'riseUs',
  'fallUs',
  'risingDelayUs',
  'risingDelayMinUs',
  'risingDelayMaxUs',
  'fallingDelayUs',
  'fallingDelayMinUs',
  'fallingDelayMaxUs',
  'deadUs',
  'junctionMaxC',
  'junctionToCase',
  'junctionToAmbient',
  'mirror',
  'mirrorSpread',
  'mirrorMaxVolt',
  'limitAmp',
  'limitMinAmp',
  'limitMaxAmp',
  'limitUs',
  'inputAmp',
  'inputHighVolt',
  'inputLowVolt',
  'inputMaxVolt',
] as const
export type FigureName = (typeof FIGURE_NAMES)[number]

const c = (value: number): Fact => ({ value, status: 'confirmed' })
const m = (value: number): Fact => ({ value, status: 'from memory' })
const d = (value: number): Fact => ({ value, status: 'derived' })

export const DRIVER_PARTS: readonly DriverPart[] = [
  {
    name: 'L298',
    sheet: 'L298 data sheet, January 2000',
    about: 'dual bipolar full bridge',
    kind: 'bipolar',
    bridgesPerPackage: 2,
    saturation: {
      // Source 1.35 / 1.7 V and sink 1.2 / 1.6 V at 1 A; 2.0 / 2.7 V and 1.7 / 2.3 V at 2 A; total at most 4.9 V at 2 A.
      points: [
        { atAmp: 1, typicalVolt: 2.55, mostVolt: 3.3 },
        { atAmp: 2, typicalVolt: 3.7, mostVolt: 4.9 },
      ],
      status: 'from memory',
    },
    inputPull: 'none',
    inputs: 'pair',
    bothLow: 'joined',
    figures: {
      inputHighVolt: m(2.3),
      inputLowVolt: m(1.5),
      inputMaxVolt: m(7),
      supplyMinVolt: m(4.8),
      supplyMaxVolt: c(46),
      continuousAmp: c(2),
      continuousParallelAmp: c(3),
      peakAmp: c(3),
      peakUs: c(100),
      quiescentAmp: m(0.07),
      riseUs: c(0.7),
      fallUs: c(0.25),
      // Half of the ramp behind the switching delay: source on 2.0 + 0.7/2; sink on 1.6 + 0.2/2.
      risingDelayUs: d(2.35),
      fallingDelayUs: d(1.7),
      // Source on 2.0 less sink off 0.7 and its fall 0.25.
      deadUs: d(1.05),
      junctionMaxC: m(150),
      junctionToCase: c(3),
      junctionToAmbient: c(35),
      inputAmp: m(0.0001),
    },
    protections:
      'Thermal shutdown only: no over-current protection. Needs external diodes of 200 ns or faster.',
    suits: 'yes',
    remark: 'Loses up to 4.9 V and 10 W at 2 A. Needs outside protection that acts within its 100 us at 3 A.',
  },
  {
    name: 'L6203',
    sheet: 'L6201/L6202/L6203 data sheet',
    about: 'DMOS full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'none',
    inputs: 'pair',
    bothLow: 'joined',
    figures: {
      inputHighVolt: m(2),
      inputLowVolt: m(0.8),
      inputMaxVolt: m(7),
      supplyMinVolt: c(12),
      supplyMaxVolt: c(48),
      continuousAmp: m(4),
      peakAmp: c(5),
      highOhm: m(0.3),
      lowOhm: m(0.3),
      ohmPerKelvin: m(0.006),
      quiescentAmp: m(0.015),
      riseUs: m(0.1),
      fallUs: m(0.1),
      risingDelayUs: m(0.4),
      fallingDelayUs: m(0.3),
      deadUs: m(0.1),
      junctionMaxC: m(150),
      junctionToCase: m(3),
      junctionToAmbient: m(35),
    },
    protections: 'Thermal shutdown at about 150 °C; no over-current protection.',
    suits: 'yes',
    remark: 'Good to about 3 A with outside protection.',
  },
  {
    name: 'LMD18200',
    sheet: 'LMD18200 data sheet SNOSAS1A, 2013',
    about: 'DMOS full bridge with sense output',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'none',
    inputs: 'one',
    figures: {
      inputHighVolt: m(2),
      inputLowVolt: m(0.8),
      inputMaxVolt: m(12),
      supplyMinVolt: m(12),
      supplyMaxVolt: c(55),
      continuousAmp: c(3),
      peakAmp: c(6),
      highOhm: c(0.3),
      lowOhm: c(0.3),
      highOhmMax: m(0.4),
      lowOhmMax: m(0.4),
      ohmPerKelvin: m(0.006),
      quiescentAmp: m(0.025),
      riseUs: m(0.1),
      fallUs: m(0.1),
      risingDelayUs: m(0.3),
      fallingDelayUs: m(0.2),
      // It warns at 145 °C and is off at 170 °C, but is rated for 150 °C.
      junctionMaxC: m(150),
      junctionToCase: m(1.5),
      junctionToAmbient: m(30),
      mirror: m(377e-6),
      mirrorSpread: m(0.1),
      limitAmp: m(10),
      inputAmp: m(1e-5),
    },
    protections: 'Shorted-load protection, thermal warning at 145 °C, shutdown at 170 °C.',
    suits: 'yes',
    remark:
      'Good to about 3 A; its sense output gives 23 uA for 60 mA: too little for an acknowledgement without gain.',
  },
  {
    name: 'LMD18201',
    sheet: 'LMD18201 data sheet',
    about: 'DMOS full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'none',
    inputs: 'one',
    figures: {
      inputHighVolt: m(2),
      inputLowVolt: m(0.8),
      inputMaxVolt: m(12),
      supplyMinVolt: m(12),
      supplyMaxVolt: c(55),
      continuousAmp: c(3),
      peakAmp: c(6),
      highOhm: c(0.33),
      lowOhm: c(0.33),
      ohmPerKelvin: m(0.006),
      quiescentAmp: m(0.025),
      // Switching as of its sibling with a sense output.
      riseUs: m(0.1),
      fallUs: m(0.1),
      risingDelayUs: m(0.3),
      fallingDelayUs: m(0.2),
      junctionMaxC: m(150),
      junctionToCase: m(1.5),
      junctionToAmbient: m(30),
    },
    protections: 'Thermal shutdown.',
    suits: 'yes',
    remark: 'Good to about 3 A with an external shunt.',
  },
  {
    name: 'DRV8871',
    sheet: 'DRV8871 data sheet SLVSCY9B',
    about: 'MOSFET full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'low',
    atLimit: 'retries',
    limitsItself: true,
    inputs: 'pair',
    bothLow: 'open',
    terminals: {
      package: 'SO of 8 pins',
      pins: ['GND', 'IN2', 'IN1', 'ILIM', 'VM', 'OUT1', 'PGND', 'OUT2'],
    },
    power: { plus: 'VM', minus: 'GND and PGND', outA: 'OUT1', outB: 'OUT2' },
    driven: { pair: { pins: { direction: 'IN1', inverted: 'IN2' }, ties: [] } },
    ties: [
      {
        terminal: 'ILIM',
        to: 'a resistor to GND: 64 kOhm·A divided by it is the current at which the part chops, which must lie above all that a short draws here',
      },
      { terminal: 'VM', to: 'also 100 nF and at least 10 uF to PGND, close to the part' },
    ],
    figures: {
      inputHighVolt: m(1.5),
      inputLowVolt: m(0.5),
      inputMaxVolt: m(7),
      supplyMinVolt: c(6.5),
      supplyMaxVolt: c(45),
      peakAmp: c(3.6),
      // 565 mOhm for both together, typical.
      highOhm: d(0.2825),
      highOhmMax: m(0.36),
      lowOhm: d(0.2825),
      lowOhmMax: m(0.32),
      ohmPerKelvin: m(0.005),
      quiescentAmp: m(0.01),
      riseUs: m(0.22),
      fallUs: m(0.22),
      risingDelayUs: m(0.7),
      risingDelayMaxUs: m(1),
      fallingDelayUs: m(0.7),
      fallingDelayMaxUs: m(1),
      deadUs: m(0.22),
      junctionMaxC: m(150),
      junctionToAmbient: m(41),
      limitAmp: m(4.5),
      limitMinAmp: m(3.7),
      limitUs: m(1.5),
      inputAmp: m(1e-4),
    },
    protections:
      'Over-current (retries), undervoltage, thermal. Set its current regulation so high that it never chops.',
    suits: 'yes',
    remark: 'H0 up to about 3 A; internal current regulation must never engage: it chops bits.',
  },
  {
    name: 'DRV8874',
    sheet: 'DRV8874 data sheet SLVSF66A',
    about: 'MOSFET full bridge with sense output',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'low',
    limitsItself: true,
    inputs: 'one',
    // Wired for two inputs.
    bothLow: 'open',
    terminals: {
      package: 'TSSOP of 16 pins',
      pins: [
        'EN/IN1',
        'PH/IN2',
        'nSLEEP',
        'nFAULT',
        'VREF',
        'IPROPI',
        'IMODE',
        'OUT1',
        'PGND',
        'OUT2',
        'VM',
        'VCP',
        'CPH',
        'CPL',
        'GND',
        'PMODE',
      ],
    },
    power: { plus: 'VM', minus: 'GND, PGND and the pad below', outA: 'OUT1', outB: 'OUT2' },
    driven: {
      one: {
        pins: { direction: 'PH/IN2', enable: 'EN/IN1', fault: 'nFAULT', sense: 'IPROPI' },
        ties: [
          { terminal: 'PMODE', to: 'GND: one input tells the polarity, one enables' },
          { terminal: 'nSLEEP', to: 'logic supply: an open or low one leaves the part asleep' },
          { terminal: 'EN/IN1', to: 'logic supply: always on' },
        ],
      },
      pair: {
        pins: { direction: 'EN/IN1', inverted: 'PH/IN2', enable: 'nSLEEP', fault: 'nFAULT', sense: 'IPROPI' },
        ties: [
          { terminal: 'PMODE', to: 'logic supply: each output follows an input of its own' },
          { terminal: 'nSLEEP', to: 'logic supply: an open or low one leaves the part asleep' },
        ],
      },
    },
    ties: [
      {
        terminal: 'IPROPI',
        to: 'GND, as the current is not measured by it',
      },
      {
        terminal: 'VREF',
        to: 'a logic supply of 3.3 V, or half of one of 5 V by two resistors of 10 kOhm; with IPROPI at GND the part then chops at no current of its own, with a sense resistor at VREF divided by what IPROPI gives per ampere and by the resistor',
      },
      { terminal: 'IMODE', to: 'GND: after its own over-current shutdown it tries again by itself' },
      { terminal: 'nFAULT', to: 'open, or a resistor of 10 kOhm to the logic supply where it is read' },
      { terminal: 'VCP', to: '100 nF to VM' },
      { terminal: 'CPH', to: '22 nF to CPL' },
      { terminal: 'VM', to: 'also 100 nF and at least 10 uF to PGND, close to the part' },
    ],
    figures: {
      inputHighVolt: m(1.5),
      inputLowVolt: m(0.5),
      inputMaxVolt: m(5.75),
      supplyMinVolt: c(4.5),
      supplyMaxVolt: c(37),
      peakAmp: c(6),
      highOhm: c(0.1),
      highOhmMax: m(0.12),
      lowOhm: c(0.1),
      lowOhmMax: m(0.12),
      ohmPerKelvin: m(0.0044),
      quiescentAmp: m(0.007),
      riseUs: m(0.15),
      fallUs: m(0.15),
      risingDelayUs: m(0.65),
      fallingDelayUs: m(0.65),
      deadUs: m(0.3),
      junctionMaxC: m(150),
      junctionToAmbient: m(35),
      mirror: c(450e-6),
      mirrorSpread: m(0.06),
      // Beyond VREF, tied as said above, it chops.
      mirrorMaxVolt: m(3.3),
      limitAmp: c(10),
      limitUs: m(3),
      inputAmp: m(5e-5),
    },
    protections: 'Over-current, undervoltage at 4.45 V, thermal at 175 °C, fault pin.',
    suits: 'yes',
    remark: 'Sense output sees low-side current only; 60 mA gives 27 uA.',
  },
  {
    name: 'TB6612FNG',
    sheet: 'TB6612FNG data sheet, 2014',
    about: 'dual MOSFET bridge',
    kind: 'mosfet',
    bridgesPerPackage: 2,
    inputPull: 'low',
    inputs: 'pair',
    bothLow: 'open',
    figures: {
      supplyMinVolt: c(2.5),
      supplyMaxVolt: c(13.5),
      continuousAmp: c(1.2),
      peakAmp: c(3.2),
      highOhm: d(0.25),
      highOhmMax: m(0.35),
      lowOhm: d(0.25),
      lowOhmMax: m(0.35),
      ohmPerKelvin: m(0.005),
      quiescentAmp: m(0.002),
      riseUs: m(0.024),
      fallUs: m(0.041),
      risingDelayUs: m(0.3),
      fallingDelayUs: m(0.23),
      deadUs: m(0.23),
      junctionMaxC: m(150),
      junctionToAmbient: m(160),
      inputAmp: m(2.5e-5),
    },
    protections: 'Thermal and low-voltage only: no over-current protection.',
    suits: 'yes',
    remark: 'At most 13.5 V: below the H0 nominal of S-9.1:2020; small scales at low voltage only.',
  },
  {
    name: 'BTS7960B',
    sheet: 'BTS7960B data sheet Rev 1.1, 2004',
    about: 'high-current half bridge, two make an output; slew resistor 0 Ohm',
    kind: 'mosfet',
    bridgesPerPackage: 0.5,
    inputPull: 'low',
    atLimit: 'retries',
    inputs: 'pair',
    bothLow: 'joined',
    figures: {
      inputHighVolt: c(2.15),
      inputLowVolt: m(1.1),
      inputMaxVolt: m(5.3),
      limitMaxAmp: c(61),
      supplyMinVolt: c(8),
      supplyMaxVolt: c(18),
      highOhm: c(0.007),
      highOhmMax: c(0.009),
      lowOhm: c(0.009),
      lowOhmMax: c(0.012),
      // 10/7 and 14/9 from 25 to 150 °C.
      ohmPerKelvin: d(0.004),
      quiescentAmp: m(0.003),
      riseUs: c(1),
      fallUs: c(1),
      risingDelayUs: c(3.1),
      risingDelayMinUs: c(1.7),
      risingDelayMaxUs: c(4.5),
      fallingDelayUs: c(4),
      fallingDelayMinUs: c(2.2),
      fallingDelayMaxUs: c(5.8),
      junctionMaxC: c(150),
      junctionToCase: m(1.8),
      junctionToAmbient: m(35),
      // Ratio 8500 typical, 3000 to 14000 at 5 A.
      mirror: d(1 / 8500),
      mirrorSpread: d(1.8),
      limitAmp: c(43),
      limitMinAmp: c(34),
      limitUs: m(10),
      inputAmp: m(0.00015),
    },
    protections: 'Current limit far above railroad wiring, thermal at 152 to 200 °C, undervoltage 5.4 V.',
    neverSound: 'its dead time is not known, so the halves of a one may differ too much: measure it',
    suits: 'yes',
    remark:
      'Only with the fast slew setting: 51 kOhm gives 1.6 V/us. Needs an outside trip; its sense is too coarse below 5 A.',
  },
  {
    name: 'BTN8982TA',
    sheet: 'BTN8982TA data sheet Rev 1.0, 2013',
    about: 'high-current half bridge, two make an output',
    kind: 'mosfet',
    bridgesPerPackage: 0.5,
    inputPull: 'low',
    inputs: 'pair',
    bothLow: 'joined',
    figures: {
      inputHighVolt: m(2.15),
      inputLowVolt: m(1.1),
      inputMaxVolt: m(5.3),
      supplyMinVolt: c(8),
      supplyMaxVolt: c(18),
      highOhm: c(0.0053),
      lowOhm: c(0.0047),
      ohmPerKelvin: m(0.005),
      quiescentAmp: m(0.003),
      junctionMaxC: m(150),
      mirror: d(1 / 19500),
      mirrorSpread: d(0.4),
      limitAmp: m(77),
      limitMinAmp: m(55),
    },
    protections: 'Current limit far above railroad wiring, thermal.',
    neverSound: 'its delays, rise and fall times and thermal resistance are not known',
    suits: 'yes',
    remark: 'Only with the fast slew setting. Needs an outside trip.',
  },
  {
    name: 'VNH2SP30-E',
    sheet: 'VNH2SP30-E data sheet Rev 10',
    about: 'automotive full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    figures: {
      supplyMinVolt: c(5.5),
      supplyMaxVolt: c(16),
      continuousAmp: c(30),
      highOhm: c(0.014),
      lowOhm: c(0.005),
      // A change of direction takes 300 / 600 / 1800 us.
      risingDelayUs: c(600),
      risingDelayMinUs: c(300),
      risingDelayMaxUs: c(1800),
      fallingDelayUs: c(600),
      fallingDelayMinUs: c(300),
      fallingDelayMaxUs: c(1800),
      junctionMaxC: m(150),
    },
    protections: 'Over-voltage off at about 19 V, current limit, thermal.',
    suits: 'no',
    remark: 'A change of direction takes 300 to 1800 us: longer than a half-bit.',
  },
  {
    name: 'VNH5019A-E',
    sheet: 'VNH5019A-E data sheet Rev 7',
    about: 'automotive full bridge with sense output',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    figures: {
      supplyMinVolt: c(5.5),
      supplyMaxVolt: c(24),
      continuousAmp: c(30),
      risingDelayUs: m(600),
      risingDelayMinUs: m(300),
      risingDelayMaxUs: m(1800),
      fallingDelayUs: m(600),
      fallingDelayMinUs: m(300),
      fallingDelayMaxUs: m(1800),
      mirror: d(1 / 7110),
      mirrorSpread: d(0.52),
      junctionMaxC: m(150),
    },
    protections: 'Current limit, thermal.',
    suits: 'no',
    remark: 'A change of direction takes longer than a half-bit.',
  },
  {
    name: 'A4950',
    sheet: 'A4950 data sheet',
    about: 'DMOS full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'low',
    inputs: 'pair',
    bothLow: 'open',
    figures: {
      inputHighVolt: m(2),
      inputLowVolt: m(0.8),
      inputMaxVolt: m(6),
      supplyMinVolt: m(8),
      supplyMaxVolt: c(40),
      peakAmp: c(3.5),
      highOhm: m(0.3),
      lowOhm: m(0.3),
      ohmPerKelvin: m(0.005),
      quiescentAmp: m(0.01),
      riseUs: m(0.1),
      fallUs: m(0.1),
      risingDelayUs: m(0.5),
      fallingDelayUs: m(0.5),
      deadUs: m(0.4),
      junctionMaxC: m(150),
      junctionToAmbient: m(35),
      limitAmp: m(6),
      limitUs: m(2),
    },
    protections: 'Over-current including shorts to supply and ground, undervoltage, thermal.',
    suits: 'yes',
    remark: 'Internal current regulation must never engage: it chops bits.',
  },
  {
    name: 'A4953',
    sheet: 'A4952/A4953 data sheet',
    about: 'DMOS full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    inputPull: 'low',
    inputs: 'pair',
    bothLow: 'open',
    figures: {
      inputHighVolt: m(2),
      inputLowVolt: m(0.8),
      inputMaxVolt: m(6),
      supplyMinVolt: c(8),
      supplyMaxVolt: c(40),
      peakAmp: m(2),
      highOhm: d(0.4),
      highOhmMax: d(0.5),
      lowOhm: d(0.4),
      lowOhmMax: d(0.5),
      ohmPerKelvin: m(0.005),
      quiescentAmp: m(0.01),
      deadUs: c(0.4),
      // It is off at 160 °C, but is rated for 150 °C.
      junctionMaxC: m(150),
      junctionToAmbient: m(35),
    },
    protections: 'Undervoltage 7 to 7.95 V, thermal at 160 °C.',
    neverSound: 'its delays, rise and fall times are not known',
    suits: 'yes',
    remark: 'Internal current regulation must never engage: it chops bits.',
  },
  {
    name: 'TLE5206-2',
    sheet: 'TLE5206-2 data sheet, 2001',
    about: 'full bridge',
    kind: 'mosfet',
    bridgesPerPackage: 1,
    figures: {
      supplyMinVolt: m(6),
      supplyMaxVolt: c(40),
      continuousAmp: c(5),
      peakAmp: c(6),
      highOhm: c(0.2),
      lowOhm: c(0.2),
      ohmPerKelvin: m(0.006),
      quiescentAmp: m(0.02),
      junctionMaxC: m(150),
    },
    protections: 'Full short protection, error flag, undervoltage, over-temperature with hysteresis.',
    suits: 'doubtful',
    remark:
      "A sibling's sheet limits reversal to 1 kHz: treat as unsuitable until its delays at 8.6 kHz are verified.",
  },
]

/** Other spellings of the same die. */
const SAME: Readonly<Record<string, string>> = {
  l298n: 'L298',
  l298p: 'L298',
  bts7960: 'BTS7960B',
  a4952: 'A4953',
  btn8982: 'BTN8982TA',
}

/** The part of that name, in any case; `undefined` when it is not here. */
export function driverPart(name: string): DriverPart | undefined {
  const wanted = name.trim().toLowerCase()
  const same = Object.hasOwn(SAME, wanted) ? SAME[wanted] : undefined
  return DRIVER_PARTS.find((p) => p.name.toLowerCase() === (same ?? wanted).toLowerCase())
}
