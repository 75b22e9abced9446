/* The I2C accelerometer: one reading of three axes, step by step from its interrupt. */
#ifndef I2C_PART_H
#define I2C_PART_H

#include <stdbool.h>
#include <stdint.h>

enum { I2C_BYTES = 6 };

void i2c_part_setup(void);
void i2c_part_mend(void);            /* look for a part that does not answer; not from an interrupt */
void i2c_part_begin(uint8_t *bytes); /* start a reading; from the scan's interrupt */
bool i2c_part_end(void);             /* false: no answer in time; from the scan's interrupt */
void i2c_part_axes(const uint8_t *bytes, int16_t axes[3]);

#endif
