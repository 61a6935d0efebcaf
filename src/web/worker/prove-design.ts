/** The proof of a design's text with what runs and captures have shown of it. */
import { type LoadedDesign, profileOfDesign } from '../../design/index.js'
import { type Proof, prove } from '../../proof/index.js'
import type { Evidence } from '../../standard/index.js'
import type { Shown } from './calls.js'
import { sha256Of } from './hash.js'
import { shownFor } from './shown-for.js'
import { VERSION } from './version.js'

interface Parts {
  text: string
  file: string
  shown: readonly Shown[]
  /** What was calculated. */
  evidence: readonly Evidence[]
  cautions: readonly string[]
  notes: readonly string[]
  fault?: string | undefined
}

export async function proveDesign(
  loaded: LoadedDesign,
  { text, file, shown, evidence, cautions, notes: calculated, fault }: Parts,
): Promise<Proof> {
  const { design } = loaded
  const current = shown.filter((s) => s.of === shownFor(design, s.kind))
  const outputs = Object.entries(design.signal.outputs).map(([name, { mode, cutout }]) => ({
    name,
    mode,
    cutout,
  }))
  const names = new Set(outputs.map((o) => o.name))
  const notes = [...calculated, ...current.flatMap((s) => s.notes)]
  for (const old of shown) {
    if (current.includes(old)) continue
    const files = old.inputs.map((i) => i.file).join(' with ')
    notes.push(
      `what ${files} showed was for the design as it stood before, and is left out: ${old.kind === 'run' ? 'run' : 'read'} it again`,
    )
  }
  if (fault) notes.unshift(`not all could be calculated: ${fault}`)
  const all = [...evidence, ...current.flatMap((s) => s.evidence)]
  return prove(
    // A run of an output that the design no longer has says nothing of this design.
    all.filter((e) => e.origin === 'calculated' || e.about === undefined || names.has(e.about)),
    profileOfDesign(loaded),
    {
      name: design.name,
      outputs,
      inputs: [{ role: 'design', file, sha256: await known(text) }, ...current.flatMap((s) => s.inputs)],
      version: VERSION,
      notes,
      cautions,
    },
  )
}

const hashes = new Map<string, string>()

async function known(text: string): Promise<string> {
  const sum = hashes.get(text) ?? (await sha256Of(text))
  if (hashes.size > 20) hashes.clear()
  hashes.set(text, sum)
  return sum
}
