"""What to say to a logger, and when: describe yourself, run at this rate, start, mark, stop."""

from __future__ import annotations

from collections import deque

from ridelog.record.live import LiveState
from ridelog.wire.framing import frame
from ridelog.wire.messages import DESCRIBE, SET_MARK, SET_RATE, START, STOP, StatusFrame
from ridelog.wire.pack import pack_command

# A board that boots when its port is opened may not listen for two seconds: ask again.
_ASK_EVERY_S = 0.7
_START_EVERY_S = 1.0


class Dialog:
    """Keeps asking until the logger has said what it is and sends samples."""

    def __init__(self, live: LiveState, rate_hz: float | None) -> None:
        self._live = live
        self._rate_hz = rate_hz
        self._marks: deque[int] = deque()
        self.restart()

    def restart(self) -> None:
        """Begin anew with a port that was just opened."""
        self._next_ask_s = self._next_start_s = 0.0
        self._rated_run: int | None = None
        self._last_word: StatusFrame | None = None

    def mark(self, number: int) -> None:
        """Have the logger stamp a mark.

        Parameters
        ----------
        number : int
            The mark's number.
        """
        self._marks.append(number)

    def due_commands(self, now_s: float) -> list[bytes]:
        """What to send now.

        Parameters
        ----------
        now_s : float
            The host's steady clock [s].
        """
        run = self._live.run
        commands = [_command(SET_MARK, self._marks.popleft())] if self._marks else []
        if run is None or not run.described:
            if now_s >= self._next_ask_s:
                self._next_ask_s = now_s + _ASK_EVERY_S
                # What stands on the line before ends with the zero.
                commands.append(b"\0" + _command(DESCRIBE))
            return commands
        if self._rate_hz is not None and self._rated_run != run.number:
            self._rated_run = run.number
            commands.append(_command(SET_RATE, round(1000 * self._rate_hz)))
        elif now_s >= self._next_start_s and now_s - self._live.last_sample_s > _START_EVERY_S:
            self._next_start_s = now_s + _START_EVERY_S
            commands.append(_command(START))
        return commands

    def farewell(self) -> bytes:
        """Return what stops the logger; its answer holds its last counts."""
        self._last_word = self._live.run.status if self._live.run else None
        return _command(STOP)

    def said_farewell(self) -> bool:
        """Tell whether it has stopped and said so since."""
        status = self._live.run.status if self._live.run else None
        return status is not None and status is not self._last_word and not status.sampling


def _command(code: int, argument: int = 0) -> bytes:
    return frame(pack_command(code, argument))
