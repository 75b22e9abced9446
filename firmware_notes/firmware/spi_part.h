/* The SPI accelerometer: one reading of three axes, byte by byte from its interrupt. */
#ifndef SPI_PART_H
#define SPI_PART_H

#include <stdbool.h>
#include <stdint.h>

enum { SPI_BYTES = 6 };

void spi_part_setup(void);           /* pins; then as spi_part_mend() */
void spi_part_mend(void);            /* look for a part that does not answer; not from an interrupt */
void spi_part_begin(uint8_t *bytes); /* start a reading; from the scan's interrupt */
bool spi_part_end(void);             /* false: not read; from the scan's interrupt */
/* Take the axes out of a reading. False: it is none; then the part is looked for again. */
bool spi_part_axes(const uint8_t *bytes, int16_t axes[3]);

#endif
