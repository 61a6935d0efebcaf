/**
 * Moves every number of the clause data by one step, up and down, for every profile and edition, and runs the checks of
 * the published limits (test/published/limit-checks.ts) on the moved profile: each move must be found. Prints a table;
 * status 1 when a move goes unnoticed.
 */
import { fileURLToPath } from 'node:url'
import { runnerImport } from 'vite'

const { module } = await runnerImport(
  fileURLToPath(new URL('../test/published/limit-checks.ts', import.meta.url)),
)
const { CHOICES, checksFor, nameOf } = module

const rows = []
for (const choice of CHOICES) {
  // Scale and cut-out move voltages and the preamble only: one scale shows everything else.
  if (choice.scale !== 'H0' && choice.cutout) continue
  const checks = checksFor(choice)
  for (const move of movesOf(checks.profile)) {
    if (choice.scale !== 'H0' && !/voltage|withstand|rms/.test(move.id)) continue
    for (const direction of [-1, 1]) {
      const moved = structuredClone(checks.profile)
      move.set(moved, move.value + direction * move.step)
      const found = choice.scale === 'H0' && checks.behaviour.some((c) => fails(c, moved, move.id))
      const listed = checks.table.some((c) => fails(c, moved, move.id))
      rows.push({
        choice: nameOf(choice),
        id: move.id,
        what: move.what,
        from: move.value,
        step: direction * move.step,
        found,
        listed,
      })
    }
  }
}

/** Every number of a profile: limits of clauses and values of rules. */
function movesOf(profile) {
  const moves = []
  const add = (id, what, value, set) => moves.push({ id, what, value, step: stepOf(value), set })
  for (const [id, clause] of Object.entries(profile.clauses))
    for (const side of ['sender', 'receiver', 'inService'])
      for (const [end, value] of Object.entries(clause[side] ?? {}))
        add(id, `${side} ${end}`, value, (p, to) => {
          p.clauses[id][side][end] = to
        })
  for (const [id, rule] of Object.entries(profile.rules))
    add(id, 'value', rule.value, (p, to) => {
      p.rules[id].value = to
    })
  return moves
}

/** One step of the last digit that is not zero; of a small whole number one. */
function stepOf(value) {
  const size = Math.abs(value)
  if (Number.isInteger(size) && size < 1000) return 1
  let step = 10 ** Math.floor(Math.log10(size))
  while (Math.abs(size / step - Math.round(size / step)) > 1e-9) step /= 10
  return step
}

/** A profile that makes no sense any more counts as found. */
function fails(check, profile, id) {
  if (!concerns(check.id, id)) return false
  try {
    return check.run(profile).length > 0
  } catch {
    return true
  }
}

/** Rules are seen through the clauses they belong to. */
function concerns(checked, moved) {
  const family = (id) => id.replace(/-(first|last|resets|idles|cutout|rejected)$/, '')
  return checked === moved || family(checked) === family(moved)
}

const survivors = rows.filter((r) => !r.found && !r.listed)
const byId = new Map()
for (const row of rows) {
  const key = `${row.id} ${row.what}`
  const sum = byId.get(key) ?? { moves: 0, found: 0, listed: 0 }
  sum.moves++
  if (row.found) sum.found++
  if (row.listed) sum.listed++
  byId.set(key, sum)
}
console.log(`${'number'.padEnd(44)}${'moves'.padStart(6)}${'signal'.padStart(8)}${'table'.padStart(7)}`)
for (const [key, { moves, found, listed }] of byId)
  console.log(
    `${key.padEnd(44)}${String(moves).padStart(6)}${String(found).padStart(8)}${String(listed).padStart(7)}`,
  )
const signal = rows.filter((r) => r.found).length
console.log(
  `\n${rows.length} moves: ${signal} found by signals just inside and just outside, ${rows.length - signal - survivors.length} by the table alone, ${survivors.length} by nothing`,
)
for (const { choice, id, what, from, step } of survivors)
  console.log(`NOT FOUND  ${choice}: ${id} ${what} ${from} moved by ${step}`)
process.exitCode = survivors.length > 0 ? 1 : 0
