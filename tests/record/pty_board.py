"""A made-up logger at the other end of a pseudo terminal, with plugs that can be pulled.

What it sends can be told from its number alone, so that every sample recorded can be checked.
Run as a program it takes orders on standard input, a word a line, and answers each with its counts.
"""

from __future__ import annotations

import argparse
import errno
import json
import os
import pty
import sys
import threading
import time
import tty
from pathlib import Path

import numpy as np

from ridelog.wire.decode import decode
from ridelog.wire.messages import COMMAND, DESCRIBE, SET_MARK, SET_RATE, START, STOP
from tests.record.logger_frames import MadeUpLogger

_STEP_S = 0.002
_BACKLOG_BYTES = 1 << 17


def expected_reading(number, channel: int, signed: bool):
    """What the board sends as its sample `number` (int or array) in a channel."""
    value = (np.asarray(number) * 7 + channel * 911) % 1000
    return value - 500 if signed else value + 12


class PtyBoard:
    """A board on a pseudo terminal that `link` points at while it is plugged in."""

    def __init__(self, link: Path, rate_hz: float = 1000.0, channels: int = 16, run: int = 1):
        self.link = link
        self.logger = MadeUpLogger(
            rate_hz=rate_hz, run=run, travel_count=min(channels, 4), body_count=0
        )
        for index in range(len(self.logger.channels), channels):
            self.logger._add("other", "", "<i2", 1.0, 0.0, f"u{index}")
        self.logger.sampling = False
        self._lock = threading.RLock()
        self._master = self._slave = -1
        self._backlog = bytearray()
        self._heard = b""
        self._sampled_until_s = 0.0
        self._status_s = 0.0
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self.deaf = False
        self.sent = 0

    def __enter__(self) -> PtyBoard:
        self.plug()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()
        self.unplug()

    def plug(self) -> None:
        with self._lock:
            self._master, self._slave = pty.openpty()
            tty.setraw(self._slave)
            os.set_blocking(self._master, False)
            beside = self.link.with_suffix(".new")
            beside.symlink_to(os.ttyname(self._slave))
            beside.rename(self.link)

    def unplug(self) -> None:
        with self._lock:
            self.link.unlink(missing_ok=True)
            for handle in (self._master, self._slave):
                if handle >= 0:
                    os.close(handle)
            self._master = self._slave = -1
            self._backlog.clear()

    def reboot(self) -> None:
        """Begin a new run; nothing is sampled until the host says so."""
        with self._lock:
            logger = self.logger
            logger.run = (logger.run + 1) % 256
            logger.due = logger.ticks = logger.missed = logger.dropped = 0
            logger.sampling = False
            self._backlog.clear()
            self._say(b"\0" + logger.describe() + logger.status())

    def counts(self) -> dict[str, int]:
        with self._lock:
            logger = self.logger
            return {
                "run": logger.run,
                "due": logger.due,
                "missed": logger.missed,
                "dropped": logger.dropped,
            }

    def _serve(self) -> None:
        while not self._ended.is_set():
            with self._lock:
                if not self.deaf:
                    self._obey()
                self._sample()
                self._send()
            time.sleep(_STEP_S)

    def _say(self, data: bytes) -> None:
        if self._master >= 0:
            self._backlog += data

    def _send(self) -> None:
        try:
            while self._backlog and self._master >= 0:
                del self._backlog[: os.write(self._master, self._backlog)]
        except OSError as error:
            if error.errno not in (errno.EAGAIN, errno.EIO):
                raise

    def _obey(self) -> None:
        if self._master < 0:
            return
        try:
            self._heard += os.read(self._master, 4096)
        except OSError:
            return
        whole = self._heard.rfind(b"\0") + 1
        for _, body in decode(self._heard[:whole]).in_order(frozenset({COMMAND})):
            self._command(body[1], int.from_bytes(body[2:6], "little"))
        self._heard = self._heard[whole:]

    def _command(self, code: int, argument: int) -> None:
        logger = self.logger
        if code == DESCRIBE:
            self._say(logger.describe())
        elif code == START and not logger.sampling:
            logger.sampling = True
            self._sampled_until_s = time.monotonic()
        elif code == STOP:
            logger.sampling = False
        elif code == SET_RATE:
            logger.rate_hz = argument / 1000
            self._say(logger.describe())
        elif code == SET_MARK:
            self._say(logger.mark(argument))
        self._say(logger.status())

    def _sample(self) -> None:
        logger, now_s = self.logger, time.monotonic()
        if logger.sampling:
            count = int((now_s - self._sampled_until_s) * logger.rate_hz)
            self._sampled_until_s += count / logger.rate_hz
            numbers = np.arange(logger.due, logger.due + count)
            table = np.stack(
                [
                    expected_reading(numbers, index, channel.format == "<i2")
                    for index, channel in enumerate(logger.channels)
                ],
                axis=1,
            )
            for row in table.tolist():
                if len(self._backlog) > _BACKLOG_BYTES:
                    logger.skip(1, dropped=True)
                else:
                    self._say(logger.sample(row))
                    self.sent += 1
        if now_s - self._status_s > 1.0:
            self._status_s = now_s
            self._say(logger.status())


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("link", type=Path)
    parser.add_argument("--rate", type=float, default=1000.0)
    parser.add_argument("--channels", type=int, default=16)
    parser.add_argument("--seconds", type=float, help="end without being told")
    options = parser.parse_args()
    with PtyBoard(options.link, options.rate, options.channels) as board:
        orders = {"unplug": board.unplug, "plug": board.plug, "reboot": board.reboot}
        if options.seconds:
            time.sleep(options.seconds)
            return
        for line in sys.stdin:
            orders.get(line.strip(), lambda: None)()
            sys.stdout.write(json.dumps(board.counts()) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
