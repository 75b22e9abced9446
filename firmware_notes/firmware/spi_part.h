/* The SPI accelerometer: one reading of three axes, byte by byte from its interrupt. */
#ifndef SPI_PART_H
#define SPI_PART_H

#include <stdbool.h>
#include <stdint.h>

void spi_part_setup(void);            /* pins; then as spi_part_mend() */
void spi_part_mend(void);             /* look for a part that does not answer; not from an interrupt */
void spi_part_begin(void);            /* start a reading; from the scan's interrupt */
bool spi_part_take(int16_t axes[3]);  /* false: no answer; from the scan's interrupt */

#endif
