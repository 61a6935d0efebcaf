/**
 * Facts that a first design needs and no other room holds: which pins a controller's converter has, and what trains of a scale usually draw. All from memory or common practice without a source; the
 * design file says so where they go into it.
 */
import type { ChipId } from '../controller/index.js'
import type { Scale } from '../standard/index.js'

export interface Converter {
  /** Pins it can read, the handiest first. */
  pins: readonly string[]
  /** The steadiest reference that the chip has without a part outside, and its tolerance. */
  referenceVolt: number
  referenceShare: number
  bits: number
  /** Readings of one channel a second, as the usual settings give. */
  rate: number
}

const ARM = { referenceVolt: 3.3, referenceShare: 0.03, bits: 12, rate: 10_000 }

/** Converters of the controllers; data sheets, from memory. */
export const CONVERTERS: Readonly<Record<ChipId, Converter>> = {
  atmega328p: {
    pins: ['PC0', 'PC1', 'PC2', 'PC3'],
    referenceVolt: 1.1,
    referenceShare: 0.1,
    bits: 10,
    rate: 9615,
  },
  atmega2560: {
    pins: ['PF0', 'PF1', 'PF2', 'PF3'],
    referenceVolt: 1.1,
    referenceShare: 0.1,
    bits: 10,
    rate: 9615,
  },
  atmega32u4: { pins: ['PF0', 'PF1'], referenceVolt: 2.56, referenceShare: 0.1, bits: 10, rate: 9615 },
  atmega4809: {
    pins: ['PD0', 'PD1', 'PD2', 'PD3'],
    referenceVolt: 1.1,
    referenceShare: 0.05,
    bits: 10,
    rate: 9615,
  },
  attiny85: { pins: ['PB2', 'PB4', 'PB3'], referenceVolt: 1.1, referenceShare: 0.1, bits: 10, rate: 9615 },
  samd21: { ...ARM, pins: ['PA2', 'PA4', 'PA5', 'PA6'] },
  rp2040: { ...ARM, pins: ['GPIO26', 'GPIO27', 'GPIO28'] },
  stm32f103: { ...ARM, pins: ['PA0', 'PA1', 'PA4', 'PA5'] },
  esp32: { ...ARM, pins: ['GPIO36', 'GPIO39', 'GPIO34'], referenceShare: 0.1 },
  ra4m1: { ...ARM, pins: ['P000', 'P001', 'P002'] },
}

export interface TrainKind {
  id: string
  name: string
  /** At 1:87; other scales draw more or less, see {@link SCALE_CURRENT}. */
  runningAmp: number
  stallAmp: number
  lightsAmp: number
  soundAmp: number
  lengthMm: number
  topKmh: number
  functions: number
  acceleration: number
  deceleration: number
  says: string
}

/** What runs: usual currents of current motors at 1:87. Common practice, no source. */
export const TRAIN_KINDS: readonly TrainKind[] = [
  {
    id: 'shunter',
    name: 'shunting locomotive',
    runningAmp: 0.2,
    stallAmp: 0.5,
    lightsAmp: 0.02,
    soundAmp: 0,
    lengthMm: 200,
    topKmh: 40,
    functions: 4,
    acceleration: 2,
    deceleration: 2,
    says: 'alone or with a few wagons',
  },
  {
    id: 'railcar',
    name: 'railcar',
    runningAmp: 0.25,
    stallAmp: 0.7,
    lightsAmp: 0.05,
    soundAmp: 0,
    lengthMm: 400,
    topKmh: 80,
    functions: 4,
    acceleration: 5,
    deceleration: 4,
    says: 'one motor, lit',
  },
  {
    id: 'local',
    name: 'local train',
    runningAmp: 0.35,
    stallAmp: 0.9,
    lightsAmp: 0.1,
    soundAmp: 0,
    lengthMm: 900,
    topKmh: 80,
    functions: 8,
    acceleration: 8,
    deceleration: 6,
    says: 'a locomotive and lit coaches',
  },
  {
    id: 'goods',
    name: 'goods train',
    runningAmp: 0.45,
    stallAmp: 1,
    lightsAmp: 0.02,
    soundAmp: 0.15,
    lengthMm: 1200,
    topKmh: 60,
    functions: 8,
    acceleration: 14,
    deceleration: 10,
    says: 'a heavy train, with sound',
  },
  {
    id: 'express',
    name: 'express train',
    runningAmp: 0.5,
    stallAmp: 1.2,
    lightsAmp: 0.2,
    soundAmp: 0.25,
    lengthMm: 1500,
    topKmh: 120,
    functions: 12,
    acceleration: 12,
    deceleration: 10,
    says: 'lit coaches, with sound',
  },
]

/** Currents of a scale beside those at 1:87. Common practice, no source. */
export const SCALE_CURRENT: Readonly<Record<Scale, number>> = {
  Z: 0.4,
  N: 0.6,
  TT: 0.8,
  H0: 1,
  S: 1.3,
  '0': 1.8,
  '1': 2.4,
  G: 2.6,
}

/** Volts of a supply that suits the scale behind a bridge of MOSFETs. Common practice, no source. */
export const SCALE_SUPPLY_VOLT: Readonly<Record<Scale, number>> = {
  Z: 12,
  N: 13,
  TT: 15,
  H0: 15,
  S: 15,
  '0': 16,
  '1': 18,
  G: 18,
}

/** Rail codes (height in thousandths of an inch) of the scales, the usual first. Common practice, no source. */
export const SCALE_RAILS: Readonly<Record<Scale, readonly number[]>> = {
  Z: [55, 40],
  N: [80, 55],
  TT: [83, 75],
  H0: [83, 100, 75],
  S: [100, 83],
  '0': [125, 148, 100],
  '1': [250, 208],
  G: [332, 250],
}
