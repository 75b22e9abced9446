#include "frame.h"

#include <util/crc16.h>

#include "serial.h"

uint8_t frame_run;

static uint8_t at;     /* next place in the serial ring, from the frame's start */
static uint8_t code_at; /* place of the count of bytes to the next zero */
static uint16_t crc;

static void encode(uint8_t byte)
{
    if (byte) {
        serial_place(at++, byte);
        return;
    }
    serial_place(code_at, (uint8_t)(at - code_at));
    code_at = at++;
}

bool frame_begin(uint8_t kind, uint16_t sequence, uint32_t ticks, uint8_t body)
{
    /* CRC, COBS and the closing zero: a frame is never longer, as it has fewer than 254 bytes. */
    if (serial_room() < body + 4)
        return false;
    at = 1;
    code_at = 0;
    crc = 0xFFFF;
    frame_u8(kind);
    frame_u8(frame_run);
    frame_u16(sequence);
    frame_u32(ticks);
    return true;
}

void frame_u8(uint8_t value)
{
    /* The library's name for polynomial 1021, not reflected; the start value makes it CCITT-FALSE. */
    crc = _crc_xmodem_update(crc, value);
    encode(value);
}

void frame_u16(uint16_t value)
{
    frame_u8((uint8_t)value);
    frame_u8((uint8_t)(value >> 8));
}

void frame_u32(uint32_t value)
{
    frame_u16((uint16_t)value);
    frame_u16((uint16_t)(value >> 16));
}

void frame_end(void)
{
    uint16_t check = crc;
    encode((uint8_t)(check >> 8));
    encode((uint8_t)check);
    serial_place(code_at, (uint8_t)(at - code_at));
    serial_place(at++, 0);
    serial_send(at);
}
