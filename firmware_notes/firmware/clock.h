/* Timer 1 runs freely at 250 kHz: one tick is 4 us. Nothing ever stops or sets it. */
#ifndef CLOCK_H
#define CLOCK_H

#include <stdint.h>

#define TICKS_PER_SECOND (F_CPU / 64)
#define TICK_US (1000000 / TICKS_PER_SECOND)

void clock_start(void);
uint32_t clock_ticks(void); /* since boot, modulo 2^32 */

#endif
