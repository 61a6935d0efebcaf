/** What the design plans to flow and where its trains have to stop: a run that comes nowhere near it shows little. */

export interface PlannedStop {
  name: string
  /** Output that its trains run on; absent where it is not known. */
  output?: string | undefined
  /** Of the track; absent where the design gives only a length. */
  section?: string | undefined
  /** To stay free at the end, mm. */
  marginMm: number
  /** The other end of the train has to be inside too. */
  wholeTrain: boolean
  /** Who stops there. */
  trains: readonly string[]
  /** Of the approach, mm/s on the model; the top speed of each train where absent. */
  mmPerS?: number | undefined
  /** Share of trains that must stop inside. */
  sure: number
  /** From the detector to the end, mm; the whole section where absent. */
  lengthMm?: number | undefined
  /** From the detector to the command, us. */
  waitUs?: number | undefined
  /** What a stop may meet at worst: a command so long after its cause, us, and a train faster than planned by a share. */
  worst?: { latestUs: number; faster: number } | undefined
}

export interface PlannedDriver {
  name: string
  /** With the worst planned load of each, A; absent where it is not known. */
  districts: readonly { name: string; plannedAmp?: number | undefined }[]
}

export interface PlannedSupply {
  name: string
  districts: readonly string[]
  ratingAmp: number
  /** Drawn by what is no district: drivers themselves and the controller, A. */
  besideAmp: number
  /** Worst planned load with all of that, A; absent where it is not known. */
  plannedAmp?: number | undefined
}

export interface BenchPlan {
  drivers?: readonly PlannedDriver[]
  supplies?: readonly PlannedSupply[]
  stops?: readonly PlannedStop[]
}
