/** What the page can ask of the worker that finds faults. */
import type { FindReport } from '../../find/index.js'
import type { SignalReading } from '../../signal/index.js'
import type { Figure } from './calls.js'

/** A place where something can be read, and what. */
export interface FindPlace {
  text: string
  kind: string
  /** On the map, mm. */
  at?: [number, number] | undefined
  quantities: FindQuantity[]
}

export interface FindQuantity {
  name: string
  unit?: string | undefined
  words?: readonly string[] | undefined
  instruments: { id: string; title: string }[]
}

export interface FindSymptom {
  id: string
  title: string
  /** Where it may be noticed. */
  places: string[]
}

/** What a design lets people read and notice. */
export interface FindPlaces {
  places: FindPlace[]
  symptoms: FindSymptom[]
  tracks: { name: string; points: [number, number][] }[]
  /** How many bench notes the design has, and of which days. */
  notes: { count: number; days: readonly string[] }
}

/** Which bench notes of the design are taken as readings. */
export interface NotesChoice {
  /** A day such as 2026-05-01. */
  since?: string | undefined
}

export interface FindGiven {
  text: string
  /** As they are written: place, quantity, value, instrument. */
  readings: readonly string[]
  symptoms: readonly string[]
  /** Places and quantities that cannot be read. */
  skipped: readonly string[]
  /** None where nobody asked for the bench notes. */
  notes?: NotesChoice | undefined
}

export interface FindAnswer {
  report: FindReport
  /** So many of the readings, the last ones, are bench notes. */
  noted: number
  /** Notes that are not weighed, and why. */
  unused: readonly string[]
}

export type FindCalls = {
  places: { takes: { text: string }; gives: FindPlaces }
  find: { takes: FindGiven; gives: FindAnswer }
  /** What a capture shows, as readings are written. */
  captured: { takes: { text: string; output: string; reading: SignalReading }; gives: readonly string[] }
  /** The wiring diagram around a place; absent where it does not show it. */
  wiring: { takes: { text: string; place: string }; gives: Figure | undefined }
  /** Why a reading or symptom cannot be one, or nothing. */
  check: { takes: { text: string; reading?: string; symptom?: string }; gives: string | undefined }
}
