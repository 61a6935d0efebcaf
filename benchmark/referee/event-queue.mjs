// The referee of the traffic: an M/D/1 queue simulated as a textbook has it, with events as objects in a binary heap.

/** @returns mean time from arrival to the packet's end, ms. */
export function eventQueue({ load, serviceNs, packets }) {
  let state = 1
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  const heap = []
  const push = (event) => {
    let i = heap.push(event) - 1
    while (i > 0) {
      const parent = (i - 1) >> 1
      if (heap[parent].at <= event.at) break
      heap[i] = heap[parent]
      i = parent
    }
    heap[i] = event
  }
  const pop = () => {
    const top = heap[0]
    const last = heap.pop()
    if (heap.length > 0) {
      let i = 0
      for (;;) {
        let child = 2 * i + 1
        if (child >= heap.length) break
        if (child + 1 < heap.length && heap[child + 1].at < heap[child].at) child++
        if (heap[child].at >= last.at) break
        heap[i] = heap[child]
        i = child
      }
      heap[i] = last
    }
    return top
  }
  const pause = () => (-Math.log(1 - random()) / load) * serviceNs
  const waiting = []
  let head = 0
  let busy = false
  let done = 0
  let sum = 0
  const begin = (at) => {
    busy = true
    push({ kind: 'end', at: at + serviceNs, command: waiting[head++] })
  }
  push({ kind: 'arrival', at: pause() })
  while (done < packets) {
    const event = pop()
    if (event.kind === 'arrival') {
      waiting.push({ at: event.at })
      push({ kind: 'arrival', at: event.at + pause() })
      if (!busy) begin(event.at)
    } else {
      sum += event.at - event.command.at
      done++
      busy = false
      if (head < waiting.length) begin(event.at)
    }
  }
  return sum / done / 1e6
}
