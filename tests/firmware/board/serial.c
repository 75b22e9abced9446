/* The serial port: ten bits a byte, one byte waiting behind the one on the line, two bytes kept on the
 * way in. Its far end is a pseudo terminal or a file. */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "board.h"

enum { RXC = 0x80, UDRE = 0x20, U2X = 0x02, UDRIE = 0x20, RXEN = 0x10, TXEN = 0x08 };

static avr_int_vector_t *data_empty, *received;
static bool sending, waiting;
static uint8_t on_the_line, next_out;

static uint8_t kept[2];
static int kept_count;
long serial_overruns;

static uint8_t to_come[65536]; /* ring: from the far end */
static unsigned come_head, come_tail;
static bool coming;

static uint8_t gone[4096];
static size_t gone_count;
static int far = -1;

struct scripted { double at_s; const char *hex; };
static struct scripted script[64];
static int script_count, script_next;

static avr_cycle_count_t byte_cycles(void)
{
    int divider = (avr->data[UBRR0L_] | avr->data[UBRR0H_] << 8) + 1;
    return 10 * divider * (avr->data[UCSR0A_] & U2X ? 8 : 16);
}

void serial_flush(void)
{
    for (size_t done = 0; done < gone_count;) {
        ssize_t count = write(far, gone + done, gone_count - done);
        if (count > 0) {
            done += (size_t)count;
        } else if (errno == EAGAIN) {
            struct pollfd ready = {.fd = far, .events = POLLOUT};
            poll(&ready, 1, 100); /* nothing is lost here: the emulation waits */
        } else {
            perror("far end of the serial line");
            exit(1);
        }
    }
    gone_count = 0;
}

static avr_cycle_count_t sent(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    gone[gone_count++] = on_the_line;
    if (gone_count == sizeof gone)
        serial_flush();
    sending = waiting;
    if (!waiting)
        return 0;
    on_the_line = next_out;
    waiting = false;
    avr_raise_interrupt(a, data_empty);
    return when + byte_cycles();
}

static avr_cycle_count_t arrived(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    uint8_t byte = to_come[come_tail++ % sizeof to_come];
    if (kept_count < 2)
        kept[kept_count++] = byte;
    else
        serial_overruns++;
    if (a->data[UCSR0B_] & RXEN)
        avr_raise_interrupt(a, received);
    coming = come_tail != come_head;
    return coming ? when + byte_cycles() : 0;
}

static void come(const uint8_t *bytes, size_t count)
{
    for (size_t i = 0; i < count; i++)
        to_come[come_head++ % sizeof to_come] = bytes[i];
    if (!coming && come_head != come_tail) {
        coming = true;
        plan(arrived, byte_cycles());
    }
}

static void write_data(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    if (!(a->data[UCSR0B_] & TXEN))
        return;
    if (!sending) {
        sending = true;
        on_the_line = value;
        plan(sent, byte_cycles());
        avr_raise_interrupt(a, data_empty);
        return;
    }
    waiting = true;
    next_out = value;
    a->data[UCSR0A_] &= ~UDRE;
    avr_clear_interrupt(a, data_empty);
}

static uint8_t read_data(struct avr_t *a, avr_io_addr_t address, void *param)
{
    uint8_t byte = kept[0];
    kept[0] = kept[1];
    if (kept_count)
        kept_count--;
    a->data[UCSR0A_] &= ~RXC;
    avr_clear_interrupt(a, received);
    if (kept_count)
        avr_raise_interrupt(a, received);
    return byte;
}

static void write_control(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    uint8_t before = a->data[UCSR0B_];
    a->data[UCSR0B_] = value;
    if (!(value & UDRIE))
        avr_clear_interrupt(a, data_empty);
    else if (!(before & UDRIE) && (a->data[UCSR0A_] & UDRE))
        avr_raise_interrupt(a, data_empty);
}

static void write_speed(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    a->data[UCSR0A_] = (a->data[UCSR0A_] & ~U2X) | (value & U2X);
}

void serial_script(double at_s, const char *hex)
{
    script[script_count++] = (struct scripted){at_s, hex};
}

void serial_poll(void)
{
    uint8_t bytes[256];
    if (script_next < script_count && script[script_next].at_s <= now_s()) {
        size_t count = 0;
        for (const char *hex = script[script_next++].hex; hex[0] && hex[1]; hex += 2)
            sscanf(hex, "%2hhx", &bytes[count++]);
        come(bytes, count);
    }
    if (!options.pty)
        return;
    serial_flush();
    ssize_t count = read(far, bytes, sizeof bytes);
    if (count > 0)
        come(bytes, (size_t)count);
}

static void open_far_end(void)
{
    if (!options.pty) {
        far = open(options.out, O_WRONLY | O_CREAT | O_TRUNC, 0644);
        if (far < 0) {
            perror(options.out);
            exit(1);
        }
        return;
    }
    int near; /* kept open: without a reader the line stays alive */
    char name[64];
    struct termios raw;
    memset(&raw, 0, sizeof raw);
    cfmakeraw(&raw);
    if (openpty(&far, &near, name, &raw, NULL)) {
        perror("openpty");
        exit(1);
    }
    tcsetattr(near, TCSANOW, &raw);
    fcntl(far, F_SETFL, O_NONBLOCK);
    printf("%s\n", name);
    fflush(stdout);
}

void serial_setup(void)
{
    sending = waiting = coming = false;
    kept_count = 0;
    come_tail = come_head;
    data_empty = interrupt(19, UCSR0B_, 5, UCSR0A_, 5, true);
    received = interrupt(18, UCSR0B_, 7, UCSR0A_, 7, true);
    on_write(UDR0_, write_data);
    on_read(UDR0_, read_data);
    on_write(UCSR0B_, write_control);
    on_write(UCSR0A_, write_speed);
    on_read(UCSR0A_, NULL);
    on_write(UBRR0L_, NULL);
    on_write(UBRR0H_, NULL);
    avr->data[UCSR0A_] = UDRE;
    if (far < 0)
        open_far_end();
}
