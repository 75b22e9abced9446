/* What the logger says beside its samples. Each sends one frame, or answers false: no room yet. */
#ifndef REPORT_H
#define REPORT_H

#include <stdbool.h>
#include <stdint.h>

#include "scan.h"

/* Counts at this place in the stream of frames, not those of the sampling, which is ahead of it. */
extern struct counts stream_counts;

bool report_sample(const struct sample *sample);
bool report_status(bool sampling, uint8_t refused);
bool report_logger(uint16_t interval_ticks);
bool report_channel(uint8_t index);
bool report_mark(bool by_command, uint32_t ticks, uint32_t number);

#endif
