/** Which form belongs to which tool. */
import { CrossingForm } from '../draw/crossing-form.js'
import { BusForm, CurveForm } from '../draw/forms.js'
import { TurnoutForm } from '../draw/turnout-form.js'
import type { FormProps } from './map-fields.js'
import { FeederForm, JointForm, SectionForm } from './map-forms.js'
import { DistrictForm, StandForm } from './map-stand-forms.js'
import type { Tool } from './map-tools.js'

export const FORMS: Partial<Record<Tool, (props: FormProps) => preact.JSX.Element>> = {
  section: SectionForm,
  curve: CurveForm,
  turnout: TurnoutForm,
  crossing: CrossingForm,
  bus: BusForm,
  feeder: FeederForm,
  joint: JointForm,
  district: DistrictForm,
  stand: StandForm,
}
