/* Frames: COBS and CRC, written straight into the serial ring. wire_format.md has the bytes. */
#ifndef FRAME_H
#define FRAME_H

#include <stdbool.h>
#include <stdint.h>

enum {
    FRAME_SAMPLE = 0x11,
    FRAME_STATUS = 0x12,
    FRAME_LOGGER = 0x13,
    FRAME_CHANNEL = 0x14,
    FRAME_MARK = 0x15,
    FRAME_COMMAND = 0x19,
};

enum { FRAME_HEADER = 8 };

extern uint8_t frame_run; /* of this boot */

/* False: no room for a body of so many bytes; then nothing may be added. */
bool frame_begin(uint8_t kind, uint16_t sequence, uint32_t ticks, uint8_t body);
void frame_u8(uint8_t value);
void frame_u16(uint16_t value);
void frame_u32(uint32_t value);
void frame_end(void);

#endif
