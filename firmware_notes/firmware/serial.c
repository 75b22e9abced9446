#include "serial.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "config.h"
#include "rest.h"

/* Nearest divider with double speed on: exact for 250, 500 and 1000 kbaud. */
#define DIVIDER ((F_CPU + 4UL * BAUD) / (8UL * BAUD) - 1)
_Static_assert(DIVIDER < 4096, "baud too low");
_Static_assert(F_CPU / 8 / (DIVIDER + 1) * 1000 / BAUD >= 975 &&
                   F_CPU / 8 / (DIVIDER + 1) * 1000 / BAUD <= 1025,
               "this baud cannot be made within 2.5 %");

/* 256 bytes, so that an index of 8 bits wraps by itself and is read and written in one go. */
static uint8_t out[256];
static volatile uint8_t out_head, out_tail;

/* Commands have 10 bytes; the host waits for each answer. */
enum { IN_SIZE = 32 };
static uint8_t in[IN_SIZE];
static volatile uint8_t in_head, in_tail;

void serial_start(void)
{
    UCSR0A = _BV(U2X0);
    UBRR0 = DIVIDER;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

ISR(USART_UDRE_vect)
{
    uint8_t tail = out_tail;
    if (tail == out_head) {
        WORK();
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
        return;
    }
    UDR0 = out[tail];
    out_tail = ++tail;
    if (tail % 32 == 0)
        WORK(); /* room again */
}

ISR(USART_RX_vect)
{
    uint8_t byte = UDR0;
    uint8_t next = (uint8_t)((in_head + 1) % IN_SIZE);
    /* Full: the byte is lost, and its frame's check sum will tell. */
    if (next != in_tail) {
        in[in_head] = byte;
        in_head = next;
    }
    WORK();
}

uint8_t serial_room(void) { return (uint8_t)(out_tail - out_head - 1); }

void serial_place(uint8_t at, uint8_t byte) { out[(uint8_t)(out_head + at)] = byte; }

void serial_send(uint8_t count)
{
    out_head = (uint8_t)(out_head + count);
    UCSR0B |= _BV(UDRIE0);
}

bool serial_idle(void) { return out_head == out_tail; }

bool serial_receive(uint8_t *byte)
{
    uint8_t tail = in_tail;
    if (tail == in_head)
        return false;
    *byte = in[tail];
    in_tail = (uint8_t)((tail + 1) % IN_SIZE);
    return true;
}
