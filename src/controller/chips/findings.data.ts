/** What the second duty of a pin means, how it is said, and what to do about it. */
import { findingTable } from '../../finding/index.js'

interface PinParams {
  pin: string
  chip: string
  /** What is particular to the chip; may be empty. */
  detail: string
}

const more = (detail: string) => (detail === '' ? '' : ` (${detail})`)

export const PIN_FINDINGS = findingTable('pins', {
  'no-such-pin': {
    means: 'The controller has no port pin of this name.',
    remedy: 'Name a port pin of the controller.',
    says: ({ pin, chip }: PinParams) => `${chip} has no port pin ${pin}`,
  },
  reset: {
    means:
      'The pin is the reset input; as a port pin it would make the controller unable to be programmed again.',
    remedy: 'Use another pin.',
    says: ({ pin, chip, detail }: PinParams) => `${pin} is the reset input of ${chip}${more(detail)}`,
  },
  oscillator: {
    means: 'The crystal, resonator or clock signal that the design names is connected to this pin.',
    remedy: 'Use another pin, or the internal oscillator if its tolerance is good enough.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} of ${chip} belongs to the oscillator that the design names${more(detail)}`,
  },
  flash: {
    means: 'The pin connects the controller to the flash memory that it runs from.',
    remedy: 'Use another pin.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} of ${chip} connects the flash memory that the program runs from${more(detail)}`,
  },
  'input-only': {
    means: 'The pin has no output stage.',
    remedy: 'Use another pin for an output; this one may read a sensor.',
    says: ({ pin, chip, detail }: PinParams) => `${pin} of ${chip} can only be an input${more(detail)}`,
  },
  'boot-strap': {
    means: 'The level of the pin at reset decides how the controller starts.',
    remedy:
      'Use another pin; or make sure that everything connected to it, even while unpowered, leaves it at the level needed to start, and list the pin under controller.checkedPins.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} is a boot strap of ${chip}: a driver input with a pull resistor can keep it from starting${more(detail)}`,
  },
  'start-option': {
    means: 'The level of the pin at reset selects a start option that does no harm here.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${chip} reads ${pin} when it starts, without harm${more(detail)}`,
  },
  'boot-output': {
    means: 'The controller itself puts a signal on the pin when it starts, before any firmware runs.',
    remedy:
      'Use another pin; or keep the driver disabled until the firmware has started, and list the pin under controller.checkedPins.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${chip} drives ${pin} by itself when it starts${more(detail)}`,
  },
  debug: {
    means: 'After reset the pin belongs to the debug interface until firmware or a fuse gives it up.',
    remedy:
      'Use another pin; or disable the interface, by fuse or first thing in the firmware, and list the pin under controller.checkedPins.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} belongs to the debug interface of ${chip} until that is disabled${more(detail)}`,
  },
  package: {
    means: 'The pin exists on some packages of the controller only.',
    remedy: 'Look it up for the package used, and list the pin under controller.checkedPins.',
    says: ({ pin, chip, detail }: PinParams) => `not every package of ${chip} has ${pin}${more(detail)}`,
  },
  module: {
    means: 'Some modules with this controller use the pin themselves.',
    remedy: 'Look it up for the module used, and list the pin under controller.checkedPins.',
    says: ({ pin, chip, detail }: PinParams) =>
      `some modules with ${chip} use ${pin} themselves${more(detail)}`,
  },
  'weak-output': {
    means: 'The output stage of the pin is much weaker or slower than those of other pins.',
    remedy:
      'Use another pin; or make sure that the input it drives takes less than that, and list the pin under controller.checkedPins.',
    says: ({ pin, chip, detail }: PinParams) => `${pin} of ${chip} is a weak output${more(detail)}`,
  },
  usb: {
    means: 'The pin is a USB data line where USB is used.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} of ${chip} is a USB line where USB is used${more(detail)}`,
  },
  'low-clock': {
    means: 'The pin belongs to the 32 kHz oscillator where one is fitted.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} of ${chip} belongs to the 32 kHz oscillator where a crystal is fitted${more(detail)}`,
  },
  serial: {
    means: 'The pin is commonly connected to the serial line that loads the firmware.',
    says: ({ pin, chip, detail }: PinParams) =>
      `${pin} of ${chip} is commonly the serial line that loads the firmware${more(detail)}`,
  },
  programming: {
    means: 'A programmer moves the pin while it writes the firmware.',
    remedy: 'Keep the driver disabled or the track disconnected while the controller is programmed.',
    says: ({ pin, chip, detail }: PinParams) =>
      `a programmer moves ${pin} of ${chip} while it writes the firmware${more(detail)}`,
  },
})
