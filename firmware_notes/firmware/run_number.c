#include "run_number.h"

#include <avr/eeprom.h>

/* One write per boot: the cell is good for 100 000 of them. Not cell 0, which suffers first when the
 * supply breaks down. */
#define CELL ((uint8_t *)16)

uint8_t run_number_next(void)
{
    uint8_t run = (uint8_t)(eeprom_read_byte(CELL) + 1);
    eeprom_write_byte(CELL, run);
    return run;
}
