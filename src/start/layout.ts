/**
 * The plan of a railroad of a given shape: sections with feeders, turnouts, bus runs and where trains stand. Lengths in
 * mm; x to the right, y downwards, from the plan's upper left corner.
 */
import type { Answers } from './answers.js'
import type { Plan, Xy } from './plan.js'
import { PlanBuilder, r1 } from './plan-builder.js'

/** @throws AnswerError where the shape does not fit into its length and depth. */
export function planOf(a: Answers): Plan {
  const builder = new Shapes(a)
  builder[a.shape]()
  return builder.done()
}

/** One method for each shape. */
class Shapes extends PlanBuilder {
  oval(): void {
    const { length, depth } = this.a
    const radius = depth / 2
    const straight = length - depth
    const [x0, x1] = [r1(radius), r1(radius + straight)]
    const second = this.second()
    const south = this.run('south', 0)
    const north = this.run('north', second)
    const turn = Math.PI * radius
    const at = { centre: [x1, r1(radius)] as Xy, radiusMm: r1(radius) }
    this.stand(
      this.row('front', straight, south, {
        from: 'a',
        to: 'b',
        points: [
          [x0, r1(depth)],
          [x1, r1(depth)],
        ],
      }),
    )
    this.row('right', turn, south, { from: 'b', to: 'c', arc: { ...at, from: 90, to: -90 } })
    this.row('left', turn, north, {
      from: 'a',
      to: 'd',
      arc: { ...at, centre: [x0, r1(radius)], from: 90, to: 270 },
    })
    const back = this.row('back', straight, north, {
      from: 'd',
      to: 'c',
      points: [
        [x0, 0],
        [x1, 0],
      ],
    })
    this.stand(back)
    // The gaps between the districts are at the far end of the right half circle and at the start of the left one.
    if (second > 0) {
      Object.assign(this.sections.find((s) => s.name === 'left')!, { gaps: 'from' })
      Object.assign(back, { gaps: 'to' })
    }
    this.says = `an oval: two straights of ${r1(straight)} mm and two half circles of ${r1(radius)} mm radius`
  }

  line(): void {
    const { length: l, depth: d } = this.a
    const t = this.turnoutMm
    const end = l * 0.28
    const second = this.second()
    const west = this.run('west', 0)
    const y = d * 0.8
    const w1 = this.row('west1', end, west, {
      to: 'W.straight',
      points: [
        [0, y],
        [end, y],
      ],
    })
    const w2 = this.row('west2', end * 0.9, west, {
      to: 'W.diverging',
      points: [
        [0, d],
        [end * 0.8, d],
        [end, y + 20],
      ],
    })
    this.turnout('W', end + t / 2, y)
    this.turnout('E', l - end - t / 2, y)
    const middle = l - 2 * end - 2 * t
    const half = middle / 2
    const x = end + t
    const lineWest = this.row('lineWest', half, west, {
      from: 'W.points',
      to: 'm',
      points: [
        [x, y],
        [x + half * 0.7, 0],
        [x + half, 0],
      ],
    })
    const east = second === 0 ? west : this.run('east', second, west.mm)
    this.row('lineEast', half, east, {
      from: 'm',
      to: 'E.points',
      ...(second > 0 ? { gaps: 'from' as const } : {}),
      points: [
        [x + half, 0],
        [x + half * 1.3, 0],
        [x + middle, y],
      ],
    })
    const e1 = this.row('east1', end, east, {
      from: 'E.straight',
      points: [
        [l - end, y],
        [l, y],
      ],
    })
    const e2 = this.row('east2', end * 0.9, east, {
      from: 'E.diverging',
      points: [
        [l - end, y + 20],
        [l - end * 0.8, d],
        [l, d],
      ],
    })
    for (const s of [w1, e1, w2, e2]) this.stand(s)
    this.stand(lineWest, 0.5)
    this.deadEnd = { section: 'east2', lengthMm: end * 0.9 }
    this.says = 'a line from end to end, with two tracks at each'
  }

  shelf(): void {
    const { length: l, depth: d } = this.a
    const t = this.turnoutMm
    const y = d * 0.55
    const second = this.second()
    const main = this.run('front', 0)
    const stick = l * 0.2
    const middle = l * 0.35
    const neck = l * 0.06
    const s = this.row('stick', stick, main, {
      to: 'A.points',
      points: [
        [0, y],
        [stick, y],
      ],
    })
    let x = stick + t
    this.turnout('A', stick + t / 2, y)
    const front = this.row('front', middle, main, {
      from: 'A.straight',
      to: 'B.straight',
      points: [
        [x, y],
        [x + middle, y],
      ],
    })
    main.mm -= middle
    const back = this.row('back', middle * 1.04, main, {
      from: 'A.diverging',
      to: 'B.diverging',
      points: [
        [x, y - 15],
        [x + middle * 0.15, 0],
        [x + middle * 0.85, 0],
        [x + middle, y - 15],
      ],
    })
    x += middle + t
    this.turnout('B', x - t / 2, y)
    const side = second === 0 ? main : this.run('sidings', second, main.mm)
    this.row('neck', neck, side, {
      from: 'B.points',
      to: 'C.points',
      ...(second > 0 ? { gaps: 'from' as const } : {}),
      points: [
        [x, y],
        [x + neck, y],
      ],
    })
    x += neck + t
    this.turnout('C', x - t / 2, y)
    const rest = Math.max(t, l - x)
    const mill = this.row('mill', rest, side, {
      from: 'C.straight',
      points: [
        [x, y],
        [x + rest, y],
      ],
    })
    side.mm -= rest
    const coal = this.row('coal', rest * 0.92, side, {
      from: 'C.diverging',
      points: [
        [x, y + 15],
        [x + rest * 0.4, d],
        [x + rest * 0.92, d],
      ],
    })
    for (const one of [front, mill, back, s, coal]) this.stand(one)
    this.deadEnd = { section: 'mill', lengthMm: rest }
    this.says = 'a shelf: a run-round loop, two sidings, and a head track at the left'
  }

  loop(): void {
    const { length: l, depth: d } = this.a
    const t = this.turnoutMm
    const radius = d / 2
    const second = this.second()
    const main = this.run('line', 0)
    const cx = l - radius
    const line = Math.max(t, l - d * 1.15 - t)
    const first = this.row('line', line, main, {
      to: 'T.points',
      points: [
        [0, d],
        [line, d],
      ],
    })
    this.turnout('T', line + t / 2, d)
    const loop = this.run('loop', second, main.mm, true)
    // Both legs run into the circle; between the gaps is all but a short piece at each leg of the turnout.
    const lead = Math.max(80, cx - line - t)
    const x = line + t
    this.row('outLeg', lead, main, {
      from: 'T.straight',
      to: 'p',
      points: [
        [x, d],
        [x + lead, d],
      ],
    })
    const circle = this.row('circle', Math.PI * radius * 1.5, loop, {
      from: 'p',
      to: 'q',
      gaps: 'both',
      arc: { centre: [r1(cx), r1(radius)], radiusMm: r1(radius), from: 90, to: -180 },
    })
    main.mm += lead
    this.row('homeLeg', lead * 1.1, main, {
      from: 'q',
      to: 'T.diverging',
      points: [
        [cx - radius, radius],
        [cx - radius, radius * 1.4],
        [x, d - 20],
      ],
    })
    const longest = circle.lengthMm * circle.count
    this.stand(first, 2)
    this.stand(circle)
    this.loopMm = longest
    this.deadEnd = { section: 'line', lengthMm: line }
    this.says = `a line into a return loop of ${r1(radius)} mm radius; its polarity is switched while a train is between the gaps`
  }

  yard(): void {
    const { length: l, depth: d, tracks } = this.a
    const t = this.turnoutMm
    const second = this.second()
    const main = this.run('lead', 0)
    const gap = d / (tracks - 1)
    const lead = Math.max(t, l * 0.25)
    const first = this.row('lead', lead, main, {
      to: 'Y1.points',
      points: [
        [0, d],
        [lead, d],
      ],
    })
    this.stand(first)
    const yard = second === 0 ? main : this.run('tracks', second, main.mm)
    const step = Math.max(t * 1.3, Math.min(t * 2, (l * 0.35) / Math.max(1, tracks - 1)))
    const startMm = yard.mm
    for (let i = 1; i < tracks; i++) {
      const x = lead + (i - 1) * step + t / 2
      const y = d - (i - 1) * gap
      this.turnout(`Y${i}`, x, y)
      const rest = Math.max(t, l - x - t / 2)
      yard.mm = startMm + (i - 1) * step
      const last = i === tracks - 1
      const cut = second > 0 ? { gaps: 'from' as const } : {}
      const one = this.row(`track${i}`, rest, yard, {
        from: `Y${i}.straight`,
        points: [
          [x + t / 2, y],
          [x + t / 2 + rest, y],
        ],
        ...cut,
      })
      this.stand(one)
      if (!last) {
        yard.mm = startMm + i * step
        const main2 = this.runs[0]!
        const had = main2.mm
        if (second > 0) main2.mm = startMm + (i - 1) * step
        this.row(`ladder${i}`, Math.max(60, step - t), main2, {
          from: `Y${i}.diverging`,
          to: `Y${i + 1}.points`,
          points: [
            [x + t / 2, y - 10],
            [x + step - t / 2, y - gap],
          ],
        })
        main2.mm = Math.max(had, main2.mm)
        continue
      }
      yard.mm = startMm + (i - 1) * step
      const end = this.row(`track${tracks}`, Math.max(t, rest - t / 2), yard, {
        from: `Y${i}.diverging`,
        points: [
          [x + t / 2, y - 10],
          [x + t, y - gap],
          [x + t / 2 + Math.max(t, rest - t / 2), y - gap],
        ],
        ...cut,
      })
      this.stand(end)
      this.deadEnd = { section: 'track1', lengthMm: l - lead - t }
    }
    this.says = `a yard of ${tracks} tracks behind a ladder of ${tracks - 1} turnouts`
  }
}
