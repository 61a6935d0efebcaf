/** The worker that calculates: from the design's text to problems, proof, drawings and tables. */
import type { DeskCalls } from './calls.js'
import { answerCalls } from './channel.js'
import { Judge } from './judge.js'
import { loadOnce } from './loaded.js'
import { VERSION } from './version.js'

const judge = new Judge(VERSION)

// What the first picture does not need is loaded when it is first asked for.
const beginning = () => import('./begin.js')
const figures = () => import('./figures.js')
const railroad = () => import('./railroad.js')
const timing = () => import('./timers.js')
const changes = () => import('./changes.js')
const book = () => import('./book.js')
const reports = () => import('./exported.js')
const adding = () => import('./add.js')

answerCalls<DeskCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  ask: async ({ given }) => ({ gives: (await beginning()).askedSteps(given) }),
  begin: async ({ given }) => ({ gives: (await beginning()).begun(given) }),
  judge: async (takes, { progress }) => ({
    gives: await judge.judge(takes, (judged) => progress(0.5, 'the rest follows', judged)),
  }),
  drawn: async () => {
    judge.drawn()
    return { gives: undefined }
  },
  timers: async ({ text, track, pick }) => ({ gives: (await timing()).timers(text, track, pick) }),
  power: async ({ text, isNarrow }) => ({ gives: (await figures()).powerFigures(loadOnce(text), isNarrow) }),
  track: async ({ text, fault }) => ({ gives: (await railroad()).railroadFigures(text, fault) }),
  'track advice': async ({ text, fault }) => ({ gives: (await railroad()).railroadAdvice(text, fault) }),
  'power changes': async ({ text }) => ({ gives: (await changes()).powerChanges(text) }),
  'track change': async ({ text, index }) => ({ gives: (await changes()).trackChange(text, index) }),
  add: async ({ text, path, given }) => ({ gives: (await adding()).addToDesign(text, [...path], given) }),
  edit: async ({ text, action }) => ({
    gives: (await import('./edit-railroad.js')).editRailroad(text, action),
  }),
  book: async ({ text, proof }) => ({ gives: (await book()).bookScreen(loadOnce(text), proof) }),
  traffic: async ({ text }) => ({ gives: (await figures()).trafficFigures(loadOnce(text)) }),
  export: async (takes) => ({ gives: await (await reports()).exported(takes) }),
})
