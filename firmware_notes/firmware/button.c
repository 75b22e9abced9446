#include "button.h"

#include <avr/io.h>

#include "clock.h"

enum { BUTTON = PD2, LAMP = PD3, STILL_TICKS = TICKS_PER_SECOND / 33 }; /* contacts bounce up to 30 ms */

void button_setup(void)
{
    PORTD |= _BV(BUTTON);
    DDRD |= _BV(LAMP);
}

bool button_pressed(void)
{
    static bool down;
    static uint32_t changed;
    bool now = !(PIND & _BV(BUTTON));
    uint32_t ticks = clock_ticks();
    if (now == down || ticks - changed < STILL_TICKS)
        return false;
    down = now;
    changed = ticks;
    return now;
}

void lamp(bool on)
{
    if (on)
        PORTD |= _BV(LAMP);
    else
        PORTD &= (uint8_t)~_BV(LAMP);
}
