import { MessageChannel } from 'node:worker_threads'
import { expect, it } from 'vitest'
import { answerCalls, callWorker } from './channel.js'

type Calls = { count: { takes: number; gives: string } }

/** Both sides over one channel of messages, as the page and its worker have. */
function sides() {
  const { port1, port2 } = new MessageChannel()
  // Messages begin to flow once somebody listens, which `addEventListener` alone does not start.
  port1.start()
  port2.start()
  answerCalls<Calls>(port2 as unknown as Parameters<typeof answerCalls>[0], {
    async count(most, { cancelled }) {
      for (let i = 0; i < most; i++) {
        await new Promise((done) => setTimeout(done, 1))
        if (cancelled()) return { gives: 'stopped' }
      }
      return { gives: 'counted' }
    },
  })
  return {
    caller: callWorker<Calls>(port1 as unknown as Parameters<typeof callWorker>[0]),
    end: () => port1.close(),
  }
}

it('stops what was told to stop before it could begin, and nothing else', async () => {
  const { caller, end } = sides()
  const early = new AbortController()
  early.abort()
  const under = new AbortController()
  const calls = [
    caller.call('count', 2000, { signal: early.signal }),
    caller.call('count', 2000, { signal: under.signal }),
    caller.call('count', 5, { signal: new AbortController().signal }),
  ]
  setTimeout(() => under.abort(), 20)
  expect(await Promise.all(calls)).toEqual(['stopped', 'stopped', 'counted'])
  end()
})
