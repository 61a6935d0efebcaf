/** The fields of the drawing forms that say where in a section a turnout or crossing goes. */
import { type FormProps, Mm, Named } from '../views/map-fields.js'
import { intoTrack } from './draft.js'

/** The section that the part goes into; empty where it goes elsewhere. */
export function IntoSection({ map, picked, pick }: FormProps) {
  const sections = map.tracks.filter((t) => t.part === 'sections')
  return (
    <Named
      label="in section"
      value={picked.into}
      set={(v) => {
        const track = sections.find((t) => t.name === v)
        pick(track ? intoTrack(track) : { into: v })
      }}
      of={sections.map((t) => t.name)}
      help="empty for one at a free end or in the open"
    />
  )
}

/** Where its middle is along that section. */
export function MiddleInSection({ map, picked, pick }: FormProps) {
  return (
    <Mm
      label="its middle from the start"
      value={picked.intoMm}
      set={(v) => {
        const track = map.tracks.find((t) => t.part === 'sections' && t.name === picked.into)
        const { across, acrossMm } = picked
        pick({ ...(track ? intoTrack(track, v ?? 0) : {}), intoMm: v ?? 0, across, acrossMm })
      }}
    />
  )
}
