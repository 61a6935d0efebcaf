import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { random } from '../../../test/track/random.js'
import { loadDesign } from '../../design/index.js'
import { modelTrack, sourcesFromPower } from '../index.js'
import { Seats } from './seats.js'
import { weakestPlaces } from './weak-places.js'

it('finds the seats that cost a place most, those of equal cost in the order of the tracks, whatever was asked before', () => {
  const file = new URL('../../../examples/exhibition/halfbit.yaml', import.meta.url)
  const { design } = loadDesign(readFileSync(file, 'utf8'))
  const sources = sourcesFromPower(design.power!, design.signal)
  const { plan, net, worstCase } = modelTrack({
    track: design.track!,
    rollingStock: design.rollingStock,
    sources,
  })
  const { rows, rowOf } = worstCase.layout
  const seats = new Seats(plan, worstCase, weakestPlaces(worstCase).weakest)
  const seatOf = (track: number) => {
    const { fromHub, toHub } = plan.tracks[track]!
    return fromHub >= 0 ? -1 - fromHub : toHub >= 0 ? -1 - toHub : track
  }
  const chance = random(4)
  for (let round = 0; round < 60; round++) {
    const each = chance() < 0.5 ? 1 : 4
    // Few different values, so that many are equal.
    const x = Float64Array.from({ length: each * rows }, () => Math.floor(6 * chance()))
    seats.hear(x, each)
    for (let from = 0; from < each; from++) {
      const count = Math.floor(6 * chance())
      const p = Math.floor(net.places.length * chance())
      const across = (q: number) => {
        const at = (node: number) => (rowOf[node]! < 0 ? 0 : x[each * rowOf[node]! + from]!)
        return Math.abs(at(net.places[q]!.a) - at(net.places[q]!.b))
      }
      const own = seatOf(net.places[p]!.track)
      const self = across(p)
      const best = new Map<number, { track: number; ohm: number }>()
      plan.tracks.forEach((_, track) => {
        const seat = seatOf(track)
        if (seat === own) return
        let ohm = -1
        for (let q = net.placeStart[track]!; q < net.placeStart[track + 1]!; q++)
          ohm = Math.max(ohm, across(q))
        if (ohm > (best.get(seat)?.ohm ?? -1)) best.set(seat, { track, ohm })
      })
      // Its own comes first among equals.
      const all = [{ track: -1, ohm: self }, ...[...best.values()].sort((a, b) => a.track - b.track)]
      const want = all.sort((a, b) => b.ohm - a.ohm).slice(0, count + 1)
      // Again, when the same were the dearest before.
      if (chance() < 0.5) seats.dearest(p, from, count, self)
      const got = seats.dearest(p, from, count, self)
      expect(got.map((s) => s.ohm)).toEqual(count === 0 ? [self] : want.map((w) => w.ohm))
      if (count === 0) continue
      expect(got.map((s) => (s.seat === own ? -1 : s.track))).toEqual(want.map((w) => w.track))
      for (const s of got) if (s.seat !== own) expect(across(s.place)).toBe(s.ohm)
    }
  }
})
