/** The worker of the fault finder: large designs take seconds, and editing goes on meanwhile. */
import { diagramSvg, layDiagram, probesAt, wiringOf, wiringSources } from '../../book/index.js'
import {
  Finder,
  INSTRUMENTS,
  type Place,
  parseReading,
  parseSymptom,
  readingsOfCapture,
  readingsOfNotes,
  reportDiagnosis,
  SYMPTOMS,
  type SymptomId,
  writtenReading,
} from '../../find/index.js'
import { layOutTracks, lengthOf, pointAt, trackName } from '../../track/index.js'
import { capital, InputError } from '../../units/index.js'
import type { Figure } from './calls.js'
import { answerCalls } from './channel.js'
import type { FindAnswer, FindCalls, FindGiven, FindPlace, FindPlaces } from './find-calls.js'
import { loadOnce } from './loaded.js'

let last: { text: string; finder: Finder } | undefined

function finderOf(text: string): Finder {
  if (last?.text !== text) last = { text, finder: new Finder(loadOnce(text)) }
  return last.finder
}

function placesOf(text: string): FindPlaces {
  const { station, spots } = finderOf(text)
  const lines = station.wiring ? layOutTracks(station.wiring.plan).map((l) => l.points) : []
  const places = new Map<string, FindPlace>()
  for (const { place, quantity, kind } of spots) {
    const own = places.get(place.text) ?? {
      text: place.text,
      kind: place.kind,
      at: onMap(station, place, lines),
      quantities: [],
    }
    places.set(place.text, own)
    own.quantities.push({
      name: quantity,
      unit: kind.unit,
      words: kind.words,
      instruments: kind.instruments.map((id) => ({ id, title: INSTRUMENTS[id].title })),
    })
  }
  const symptoms = Object.entries(SYMPTOMS).map(([id, symptom]) => ({
    id: id as SymptomId,
    title: symptom.title,
    places:
      'place' in symptom ? station.places.flatMap((p) => (p.kind === symptom.place ? [p.text] : [])) : [],
  }))
  return {
    places: [...places.values()],
    symptoms,
    notes: notesOf(finderOf(text)),
    tracks: (station.wiring?.plan.tracks ?? []).map((t, i) => ({ name: trackName(t), points: lines[i]! })),
  }
}

function notesOf({ station }: Finder): FindPlaces['notes'] {
  const readings = station.loaded.design.benchNotes?.readings ?? []
  return { count: readings.length, days: [...new Set(readings.map((r) => r.on))].sort() }
}

/** Where a place on the rails is; others are in the wiring diagram only. */
function onMap(
  { wiring }: Finder['station'],
  place: Place,
  lines: readonly [number, number][][],
): [number, number] | undefined {
  if (!wiring || place.index === undefined) return undefined
  const { plan } = wiring
  const along = (track: number, share: number) => pointAt(lines[track]!, share * lengthOf(lines[track]!))
  switch (place.kind) {
    case 'track':
      return along(place.index, 0.5)
    case 'feeder': {
      const { track, railMm } = plan.feeders[place.index]!
      return along(track, railMm / Math.max(1, plan.tracks[track]!.lengthMm))
    }
    case 'gap': {
      const { a } = plan.joints[wiring.gaps[place.index]!.joint]!
      return (a & 1) === 0 ? lines[a >> 1]![0]! : lines[a >> 1]!.at(-1)!
    }
    case 'joint': {
      const { a } = plan.joints[wiring.joints[place.index]!.joint]!
      return (a & 1) === 0 ? lines[a >> 1]![0]! : lines[a >> 1]!.at(-1)!
    }
    default:
      return undefined
  }
}

function found({ text, readings, symptoms, skipped, notes }: FindGiven): FindAnswer {
  const finder = finderOf(text)
  const noted = notes
    ? readingsOfNotes(finder.station.loaded, finder.spots, notes)
    : { readings: [], unused: [] }
  const taken = [...readings.map((r) => parseReading(finder.station, finder.spots, r)), ...noted.readings]
  const noticed = symptoms.map((s) => parseSymptom(finder.station, s))
  const report = reportDiagnosis(finder.diagnose(taken, noticed, new Set(skipped)), taken, noticed, (p) =>
    finder.testOhmAt(p),
  )
  return {
    report,
    noted: noted.readings.length,
    unused: noted.unused.map(({ sentence }) => `${capital(sentence)}.`),
  }
}

function wiringAround(text: string, name: string): Figure | undefined {
  const { station } = finderOf(text)
  const place = station.places.find((p) => p.text === name)
  if (!place) return undefined
  const sources = wiringSources(station.loaded)
  const wiring = wiringOf(sources)
  const marks = probesAt(place, wiring, sources)
  if (marks.parts.length + marks.wires.length === 0) return undefined
  const alt = `The wiring around ${name}; what the reading concerns is highlighted`
  return {
    name: `wiring-${name.replace(/[^\w]+/g, '-')}`,
    title: `Wiring around ${name}`,
    svg: diagramSvg(layDiagram(wiring), alt, marks),
  }
}

function refusal(text: string, reading: string | undefined, symptom: string | undefined): string | undefined {
  const { station, spots } = finderOf(text)
  try {
    if (reading !== undefined) parseReading(station, spots, reading)
    if (symptom !== undefined) parseSymptom(station, symptom)
    return undefined
  } catch (error) {
    if (error instanceof InputError) return error.message
    throw error
  }
}

answerCalls<FindCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  places: async ({ text }) => ({ gives: placesOf(text) }),
  find: async (given) => ({ gives: found(given) }),
  captured: async ({ text, output, reading }) => ({
    gives: readingsOfCapture(finderOf(text).spots, output, reading).map(writtenReading),
  }),
  wiring: async ({ text, place }) => ({ gives: wiringAround(text, place) }),
  check: async ({ text, reading, symptom }) => ({ gives: refusal(text, reading, symptom) }),
})
