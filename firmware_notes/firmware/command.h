/* Commands from the host, taken out of their frames. */
#ifndef COMMAND_H
#define COMMAND_H

#include <stdbool.h>
#include <stdint.h>

enum { DESCRIBE = 1, START, STOP, SET_RATE, MARK };

struct command {
    uint8_t code;
    uint32_t argument;
};

/* One command from what has come in. False: none is complete. `refused` counts spoilt ones. */
bool command_receive(struct command *command, uint8_t *refused);
void command_refuse(uint8_t *refused);

#endif
