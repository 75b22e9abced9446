#include "clock.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

static volatile uint16_t wraps;

ISR(TIMER1_OVF_vect) { wraps++; }

void clock_start(void)
{
    TCCR1A = 0;
    TIMSK1 = _BV(TOIE1);
    TCCR1B = _BV(CS11) | _BV(CS10);
}

uint32_t clock_ticks(void)
{
    uint16_t low, high;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        low = TCNT1;
        high = wraps;
        /* Wrapped, and the interrupt has not come to it yet. */
        if ((TIFR1 & _BV(TOV1)) && low < 0x8000)
            high++;
    }
    return (uint32_t)high << 16 | low;
}
