#include "command.h"

#include <util/crc16.h>

#include "frame.h"
#include "serial.h"

/* COBS code, kind, code, argument of four bytes, CRC. */
enum { BODY = 6, LENGTH = BODY + 3 };

static uint8_t line[LENGTH];
static uint8_t length; /* bytes since the last zero; stays at LENGTH + 1 when too many */

void command_refuse(uint8_t *refused)
{
    if (*refused < 255)
        ++*refused;
}

/* Undo COBS in place and compare the CRC. */
static bool decode(void)
{
    uint8_t next = line[0];
    if (length != LENGTH)
        return false;
    for (uint8_t i = 1; i < LENGTH; i++) {
        if (i != next)
            continue;
        next = (uint8_t)(i + line[i]);
        line[i] = 0;
    }
    uint16_t crc = 0xFFFF;
    for (uint8_t i = 1; i < LENGTH; i++)
        crc = _crc_xmodem_update(crc, line[i]);
    return next == LENGTH && crc == 0 && line[1] == FRAME_COMMAND;
}

bool command_receive(struct command *command, uint8_t *refused)
{
    uint8_t byte;
    while (serial_receive(&byte)) {
        if (byte) {
            if (length < LENGTH)
                line[length] = byte;
            if (length <= LENGTH)
                length++;
            continue;
        }
        bool empty = length == 0, good = decode();
        length = 0;
        if (good) {
            command->code = line[2];
            command->argument = line[3] | (uint32_t)line[4] << 8 | (uint32_t)line[5] << 16 |
                                (uint32_t)line[6] << 24;
            return true;
        }
        if (!empty)
            command_refuse(refused);
    }
    return false;
}
