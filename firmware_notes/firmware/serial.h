/* Serial port with a ring each way. Writing never waits: ask for room first. */
#ifndef SERIAL_H
#define SERIAL_H

#include <stdbool.h>
#include <stdint.h>

void serial_start(void);
uint8_t serial_room(void);
/* Bytes are placed behind those already handed over, and go out together at serial_send(count). */
void serial_place(uint8_t at, uint8_t byte);
void serial_send(uint8_t count);
bool serial_idle(void);
bool serial_receive(uint8_t *byte); /* false: nothing there */

#endif
