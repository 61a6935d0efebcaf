/** A proposal as changes of the design file. */
import { editTrack } from '../drawing/edit.js'
import type { RawFile, TrackEdit } from '../drawing/file-change.js'
import type { TrackModel } from '../model.js'
import type { Advice } from './advice.js'

/**
 * @param raw the file's plain data, as written
 * @returns `undefined` where the proposal takes decisions that are the builder's
 */
export function adviceEdit(model: TrackModel, raw: RawFile, { edit, what }: Advice): TrackEdit | undefined {
  if (!edit) return undefined
  if (edit.do === 'set wire')
    return { changes: [{ path: ['track', 'bus', edit.run, 'wire'], value: edit.wire }], says: what }
  const { wire, lengthMm, ...action } = edit
  const usual = model.plan.design.defaults?.feeder
  const own = {
    ...(usual?.wire === wire ? {} : { wire }),
    ...(usual?.length === lengthMm ? {} : { lengthMm }),
  }
  return { ...editTrack(model, raw, { ...action, ...own }), says: what }
}
