/** Makefiles of the starter firmware. */
import { HASH_HEAD, hashPlace } from '../places.js'

export interface MakefileInput {
  mcu: string
  clockHz: number
  sources: readonly string[]
}

export function makefile({ mcu, clockHz, sources }: MakefileInput): string {
  return `${HASH_HEAD}# Builds station.elf and station.hex with the AVR port of GCC, and says how much of the chip they take. The flags keep
# paths and dates out, so that the same compiler gives the same bytes anywhere.
CC = avr-gcc
FLAGS = -mmcu=${mcu} -DF_CPU=${clockHz}UL -std=gnu11 -Os -g0 -fno-ident -ffunction-sections -fdata-sections \\
	-Wall -Wextra -Werror
LINK = -Wl,--gc-sections -Wl,--build-id=none -Wl,--strip-debug
SOURCES = ${sources.join(' ')}
${hashPlace('sources', '# SOURCES += mine.c\n')}OBJECTS = $(SOURCES:.c=.o)

all: station.hex size

station.hex: station.elf
	avr-objcopy -O ihex -R .eeprom -R .fuse -R .lock $< $@

station.elf: $(OBJECTS)
	$(CC) $(FLAGS) $(LINK) -o $@ $(OBJECTS)

%.o: %.c $(wildcard *.h) Makefile
	$(CC) $(FLAGS) -c -o $@ $<

# Flash is text and data, RAM is data and bss; the stack comes on top.
size: station.elf
	avr-size $<

clean:
	rm -f $(OBJECTS) station.elf station.hex

.PHONY: all size clean
`
}

/** For a chip that is calculated only: the parts without registers, as a library. */
export function portableMakefile(sources: readonly string[]): string {
  return `${HASH_HEAD}# Builds the parts that need no registers as a library. With your chip's compiler: make CC=… AR=… FLAGS=…
CC = cc
AR = ar
FLAGS = -std=gnu11 -Os -Wall -Wextra -Werror
SOURCES = ${sources.join(' ')}
${hashPlace('sources', '# SOURCES += mine.c\n')}OBJECTS = $(SOURCES:.c=.o)

all: libstation.a

libstation.a: $(OBJECTS)
	rm -f $@
	$(AR) rcs $@ $(OBJECTS)

%.o: %.c $(wildcard *.h) Makefile
	$(CC) $(FLAGS) -c -o $@ $<

clean:
	rm -f $(OBJECTS) libstation.a

.PHONY: all clean
`
}
