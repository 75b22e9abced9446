"""Serial ports: which there are, opening one, finding it again when it was unplugged."""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass

import serial
from serial.tools import list_ports

from ridelog.errors import RecorderError

try:
    import termios
except ImportError:  # a system without it never raises its error
    _TERMINAL_ERRORS: tuple[type[Exception], ...] = ()
else:
    _TERMINAL_ERRORS = (termios.error,)

FAILURES = (serial.SerialException, OSError, *_TERMINAL_ERRORS)
"""All that a port raises that was unplugged, in whatever call it happens to be."""

_READ_TIMEOUT_S = 0.1
_WRITE_TIMEOUT_S = 1.0
_REASONS = {
    errno.ENOENT: "there is no such port",
    errno.ENODEV: "there is no such port",
    errno.ENXIO: "there is no such port",
    errno.EACCES: (
        "no permission to open it; on Linux join the group dialout (sudo usermod -aG dialout"
        " $USER) and log in again"
    ),
    errno.EPERM: "no permission to open it",
    errno.EBUSY: "another program has it open; close that first",
    errno.EAGAIN: "another program has it open; close that first",
    errno.ENOTTY: "is not a serial port",
    errno.EINVAL: "is not a serial port, or does not know this baud rate",
    errno.EIO: "does not answer; unplug it and plug it in again",
}


class PortLostError(Exception):
    """The port is gone: unplugged, or its driver gave up. Inside this room only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortInfo:
    """A serial port of this computer; `identity` stays with the device when it is replugged."""

    device: str
    words: str
    identity: tuple[object, ...] | None


def known_ports() -> tuple[PortInfo, ...]:
    """List the serial ports of this computer, those on USB first."""
    ports = sorted(list_ports.comports(), key=lambda port: (port.vid is None, port.device))
    return tuple(
        PortInfo(
            device=port.device,
            words=_printable(port.description if port.vid is not None else "no USB device"),
            identity=_identity(port),
        )
        for port in ports
    )


def identity_of(device: str) -> tuple[object, ...] | None:
    """Tell what to know a device by when it comes back; None where it has only its name.

    Parameters
    ----------
    device : str
        The port's name.
    """
    real = os.path.realpath(device)
    same = [port for port in known_ports() if os.path.realpath(port.device) == real]
    return same[0].identity if same else None


def find_again(device: str, identity: tuple[object, ...] | None) -> str | None:
    """Find a device that was unplugged, under its old name or a new one.

    Parameters
    ----------
    device : str
        The name it had.
    identity : tuple or None
        What it is known by.

    Returns
    -------
    str or None
        The name it has now.
    """
    if identity is None:
        return device if os.path.exists(device) else None  # noqa: PTH110  (a name, not a file)
    for port in known_ports():
        if port.identity == identity:
            return port.device
    return None


class Line:
    """An open port. Every call raises `PortLostError` once it is gone."""

    def __init__(self, device: str, baud: int) -> None:
        try:
            self._port = serial.Serial(
                device,
                baud,
                timeout=_READ_TIMEOUT_S,
                write_timeout=_WRITE_TIMEOUT_S,
                exclusive=True,
            )
        except (*FAILURES, ValueError) as error:
            raise RecorderError(device, _reason(error)) from None
        self.device = device

    def read(self) -> bytes:
        """Take what has come, or wait a tenth of a second for the first byte.

        What has come is taken at once: a longer wait for a full block loses the block when the
        port is unplugged.
        """
        try:
            return bytes(self._port.read(self._port.in_waiting or 1))
        except (*FAILURES, TypeError) as error:  # TypeError: pyserial's own, of a closed port
            raise PortLostError(str(error)) from None

    def write(self, data: bytes) -> None:
        """Send some bytes; a logger that does not take them in time is not lost for that."""
        try:
            self._port.write(data)
        except serial.SerialTimeoutException:
            return
        except (*FAILURES, TypeError) as error:
            raise PortLostError(str(error)) from None

    def close(self) -> None:
        """Close the port, whatever state it is in."""
        try:
            self._port.close()
        except FAILURES:
            return


def _identity(port: list_ports.ListPortInfo) -> tuple[object, ...] | None:
    """Vendor, product, and serial number or, for adapters without one, the socket they are in."""
    if port.vid is None:
        return None
    return (port.vid, port.pid, port.serial_number or port.location)


def _reason(error: Exception) -> str:
    """Word why a port cannot be opened."""
    reason: BaseException | None = error
    while reason is not None:  # pyserial wraps some of the system's errors, number and all
        number = reason.args[0] if reason.args else None
        if number in _REASONS:
            return _REASONS[number]
        reason = reason.__context__
    return f"cannot be opened ({_printable(str(error))})"


def _printable(words: str) -> str:
    """Keep a device's own words from doing anything to the terminal."""
    return "".join(mark for mark in words if mark.isprintable())
