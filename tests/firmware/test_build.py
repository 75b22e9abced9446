"""The firmware builds without a warning, fits the chip, and refuses what cannot work."""

import re
import subprocess

import pytest

from tests.firmware.emulated import SOURCE, make

# Data sheet of the ATmega328P: 32 KB of flash, up to 2 KB of it for a boot loader; 2 KB of RAM.
FLASH_BYTES, RAM_BYTES = 30 * 1024, 2048
STACK_BYTES = 400


def sizes(elf):
    listed = subprocess.run(
        ["avr-size", "-A", str(elf)], capture_output=True, text=True, check=True
    )
    found = {name: int(size) for name, size in re.findall(r"^(\.\w+)\s+(\d+)", listed.stdout, re.M)}
    flash = found[".text"] + found.get(".data", 0)
    return flash, found.get(".data", 0) + found.get(".bss", 0)


def test_it_builds_without_a_warning_and_prints_its_size(bench):
    made = make(SOURCE, bench.folder / "printed")
    assert made.returncode == 0
    assert made.stderr == ""  # -Wall -Wextra
    assert re.search(r"Program: +\d+ bytes", made.stdout)
    flash, ram = sizes(bench.folder / "printed" / "logger.elf")
    assert flash < FLASH_BYTES
    assert ram < RAM_BYTES - STACK_BYTES
    assert not (SOURCE / "build").exists()


OTHER = 'SOMETHING, NONE, 1.0, 0.0, 0, 1023, 0, "count"'
AXES = ("X", "Y", "Z", "X", "Y")
SIXTEEN = "".join(
    [f'ANALOG({pin}, {OTHER}, "A{pin}")\n' for pin in (0, 1, 2, 3, 6, 7)]
    + [
        f'{part}_AXIS({axis}, {OTHER}, "{part} {axis}")\n'
        for part in ("SPI", "I2C")
        for axis in AXES
    ]
)
TWO_PINS = "".join(
    f'ANALOG({pin}, TRAVEL, FL, 1.0, 0.0, 0, 1023, 0, "V", "A{pin}")\n' for pin in (0, 5)
)


@pytest.mark.parametrize(
    ("options", "table"),
    [
        ("-DBAUD=115200 -DDEFAULT_RATE_HZ=250", None),
        ("-DBAUD=1000000 -DADC_DIVIDER=64 -DDEFAULT_RATE_HZ=1000", None),
        ("", SIXTEEN),
        ("", TWO_PINS),
    ],
    ids=["slow line", "fast line", "sixteen channels", "two potentiometers"],
)
def test_other_configurations_fit_too(bench, options, table):
    flash, ram = sizes(bench.firmware(options, table))
    assert flash < FLASH_BYTES
    assert ram < RAM_BYTES - STACK_BYTES


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ("-DBAUD=115200", "DEFAULT_RATE_HZ does not fit"),
        ("-DDEFAULT_RATE_HZ=2000", "DEFAULT_RATE_HZ does not fit"),
        ("-DBAUD=230400", "this baud cannot be made"),
        ("-DADC_DIVIDER=32", "ADC_DIVIDER is 128 or 64"),
    ],
)
def test_what_cannot_work_is_refused_when_it_is_built(bench, options, words):
    made = make(SOURCE, bench.folder / "refused", options)
    assert made.returncode != 0
    assert words in made.stderr


def test_an_analog_channel_on_the_bus_is_refused(bench):
    table = (SOURCE / "channel_table.h").read_text().replace("ANALOG(3,", "ANALOG(4,")
    with pytest.raises(AssertionError, match="pins 4 and 5 are the I2C bus"):
        bench.firmware(channel_table=table)
