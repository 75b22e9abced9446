/* What sample rates the converter and the line can carry. */
#ifndef RATE_H
#define RATE_H

#include <stdbool.h>
#include <stdint.h>

#include "channels.h"
#include "clock.h"
#include "config.h"
#include "frame.h"
#include "scan.h"

enum { SAMPLE_BYTES = FRAME_HEADER + 2 * CHANNEL_COUNT + 4 };

/* The scan, and time to look at what came in between. */
#define SCAN_INTERVAL (SCAN_TICKS + 12)
/* Ten bits a byte, 97 % of the line for samples. */
#define LINE_INTERVAL ((uint32_t)SAMPLE_BYTES * 10 * (TICKS_PER_SECOND / 100) / (BAUD / 100 * 97 / 100) + 1)
#define SHORTEST_INTERVAL (SCAN_INTERVAL > LINE_INTERVAL ? SCAN_INTERVAL : LINE_INTERVAL)
#define LONGEST_INTERVAL (TICKS_PER_SECOND / 10)
#define DEFAULT_INTERVAL (TICKS_PER_SECOND / DEFAULT_RATE_HZ)

_Static_assert(DEFAULT_INTERVAL >= SHORTEST_INTERVAL && DEFAULT_INTERVAL <= LONGEST_INTERVAL,
               "DEFAULT_RATE_HZ does not fit: fewer channels, a faster BAUD or a lower rate");

#endif
