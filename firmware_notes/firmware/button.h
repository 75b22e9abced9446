/* A button between PD2 and ground sets a mark; a lamp at PD3 shows that samples are taken. */
#ifndef BUTTON_H
#define BUTTON_H

#include <stdbool.h>

void button_setup(void);
bool button_pressed(void); /* true once per press */
void lamp(bool on);

#endif
