#include "rest.h"

#include <avr/interrupt.h>
#include <avr/sleep.h>

/* Timer 0 knocks every 16 ms, for the button and the seconds. */
ISR(TIMER0_OVF_vect) { WORK(); }

void rest_setup(void)
{
    TIMSK0 = _BV(TOIE0);
    TCCR0B = _BV(CS02) | _BV(CS00);
    set_sleep_mode(SLEEP_MODE_IDLE);
}

void rest(void)
{
    cli();
    while (!GPIOR0) {
        sleep_enable();
        sei(); /* the instruction after it is still carried out: nothing can slip in between */
        sleep_cpu();
        sleep_disable();
        cli();
    }
    GPIOR0 = 0;
    sei();
}
