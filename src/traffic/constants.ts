/** A policy as constants for firmware in C. */
import { wrapText } from '../plot/index.js'
import type { PolicyDesign } from './design.js'
import { ITEM_NAMES } from './packets.js'
import { DEFAULT_TABLE, type ResolvedTraffic, repeatsOf, weightsOf } from './plan.js'

/** Lines of a C header. */
export function policyHeader(traffic: ResolvedTraffic, name: string): string {
  const policy: PolicyDesign = traffic.policies[name]!
  const { timing, traffic: design } = traffic.input
  const repeats = repeatsOf(policy)
  const weights = weightsOf(policy)
  const table = (policy.table ?? DEFAULT_TABLE).map((item) => ITEM_NAMES.indexOf(item))
  const capacity = traffic.capacity ?? traffic.locomotives.length
  const define = (key: string, value: string | number, says: string) =>
    `#define ${`TRAFFIC_${key}`.padEnd(27)} ${String(value).padEnd(5)} /* ${says.replaceAll('*/', '* /')} */`
  const lines = [
    `/* Scheduling policy "${name.replaceAll('*/', '* /')}", by halfbit traffic. */`,
    '#ifndef TRAFFIC_SETTINGS_H',
    '#define TRAFFIC_SETTINGS_H',
    '',
    define('CAPACITY', capacity, 'locomotives held'),
    define('BYTES_EACH', design.memoryEach, 'bytes of one locomotive'),
    define('QUEUE', policy.queue, 'room for waiting changes'),
    define('ORDER', { cycle: 0, changes: 1, weighted: 2 }[policy.order], '0 cycle, 1 changes, 2 weighted'),
    define('MERGE', policy.waiting === 'merge' ? 1 : 0, '1: newer replaces older waiting'),
    define('STOPS_FIRST', policy.stopsFirst ? 1 : 0, '1: stops go in front'),
    define('GAP_US', policy.gap, 'end to start bit, same address'),
    define('PER_VISIT', policy.perVisit, 'packets before the next address'),
    define('REPEATS_SPEED', repeats.speed, 'packets after the first'),
    define('REPEATS_FUNCTIONS', repeats.functions, 'packets after the first'),
    define('REPEATS_TURNOUTS', repeats.turnouts, 'packets after the first'),
    define('PREAMBLE', timing.preamble, 'ones before a packet'),
  ]
  if (policy.order === 'weighted') {
    lines.push(define('WEIGHT_CHANGES', weights.changes, 'changes and repeats'))
    lines.push(define('WEIGHT_MOVING', weights.moving, 'speed of moving locomotives'))
    lines.push(define('WEIGHT_STANDING', weights.standing, 'speed of standing locomotives'))
    lines.push(define('WEIGHT_FUNCTIONS', weights.functions, 'functions'))
  }
  lines.push(
    '',
    ...wrapText(
      `/* Refreshed in this order, as far as a locomotive uses it: ${ITEM_NAMES.map((n, i) => `${i} ${n}`).join(', ')}. */`,
      78,
      ' * ',
    ),
    `#define TRAFFIC_TABLE_LENGTH ${table.length}`,
    `#define TRAFFIC_TABLE { ${table.join(', ')} }`,
    '',
    '#endif',
  )
  return `${lines.join('\n')}\n`
}
