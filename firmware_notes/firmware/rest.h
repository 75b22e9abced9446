/* The processor rests while there is nothing for the main loop to do. */
#ifndef REST_H
#define REST_H

#include <avr/io.h>

/* An interrupt that leaves work for the main loop says so; the others let it rest on. */
#define WORK() (GPIOR0 = 1)

void rest_setup(void);
void rest(void); /* until the next WORK(), 16 ms at most */

#endif
