#ifndef RUN_NUMBER_H
#define RUN_NUMBER_H

#include <stdint.h>

uint8_t run_number_next(void); /* one more than at the last boot, kept in EEPROM */

#endif
