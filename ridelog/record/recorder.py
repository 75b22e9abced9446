"""Record from a serial port into a file, until told to stop."""

from __future__ import annotations

import threading
import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path

from ridelog.errors import RecorderError
from ridelog.record.dialog import Dialog
from ridelog.record.file import RecordingFile, free_name
from ridelog.record.live import LiveState
from ridelog.record.ports import Line, PortLostError, find_again, identity_of
from ridelog.record.recognise import Speech, is_text, recognise
from ridelog.record.snapshot import Snapshot, take_snapshot
from ridelog.wire.framing import frame
from ridelog.wire.messages import (
    HOST_MARK,
    PORT_LOST,
    PORT_OPENED,
    RECORDING_ENDED,
    VERSION,
    HostEvent,
    HostTime,
)
from ridelog.wire.pack import RECORDING_BODY, pack_host_event, pack_host_time

# Between two looks at the port: as long as the smallest buffers allow, because each look costs.
_REST_S = 0.008
# Decoding to show and to talk: seldom while all is well, oftener while something is waited for.
_LOOK_EVERY_S = 0.5
_LOOK_WAITING_EVERY_S = 0.1
_HOST_TIME_EVERY_S = 0.05
_TRY_AGAIN_S = 0.2
# After this much nonsense for so long, the baud rate must be wrong.
_NONSENSE_S = 4.0
_NONSENSE_BYTES = 16
_LONGEST_REST_BYTES = 1 << 16
_FAREWELL_S = 1.0
_FLOWS_WITHIN_S = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSettings:
    """From which port at which baud rate, into which file; a sample rate to ask for, if any."""

    port: str
    baud: int
    file: Path
    rate_hz: float | None = None


class Recorder:
    """Moves bytes from the port to the file; what they mean it looks at only to show it.

    `run` belongs in a thread of its own, so that a slow terminal never holds it up. `snapshot` is
    what can be shown meanwhile, until it has `ended`. `parts` are the files written: one, but for
    a logger that prints lines and was unplugged.
    """

    def __init__(self, settings: RecordSettings) -> None:
        self._settings = settings
        self._line = Line(settings.port, settings.baud)
        try:
            self._identity = identity_of(settings.port)
            self._file = RecordingFile(settings.file)
        except BaseException:
            self._line.close()
            raise
        self.parts = [settings.file]
        self.ended = False
        self._live = LiveState()
        self._dialog = Dialog(self._live, settings.rate_hz)
        self._begun_s = time.monotonic()
        self._marks: deque[int] = deque()
        self._mark_count = 0
        self._line_count = 0
        self._last_words = ""
        self._speech = Speech.UNKNOWN
        self._waiting = self._rest = b""
        self._unseen = bytearray()
        self._looked_s = self._told_time_s = 0.0
        self._restart("waiting for the logger")
        self.snapshot = self._snapshot(self._begun_s)

    def mark(self) -> int:
        """Set a mark now; returns its number."""
        self._mark_count += 1
        self._marks.append(self._mark_count)
        return self._mark_count

    def run(self, stop: threading.Event) -> None:
        """Record until `stop` is set, through unplugging and plugging in again.

        Parameters
        ----------
        stop : threading.Event
            Set it to end.

        Raises
        ------
        RecorderError
            When the file cannot be written any more, or what comes is not for us. What was
            received is in the file.
        """
        try:
            self._write_event(PORT_OPENED, words=self._line.device)
            while not stop.is_set():
                try:
                    self._listen(stop)
                except PortLostError:
                    self._lose_port()
                    self._wait_for_port(stop)
            self._say_farewell()
        finally:
            self._line.close()
            self._finish()
            self.ended = True

    def _listen(self, stop: threading.Event) -> None:
        """Take what comes; talk to the logger; look at it now and then."""
        while not stop.is_set():
            data = self._line.read()
            now_s = time.monotonic()
            if data:
                self._take(data, now_s)
            look_every_s = _LOOK_EVERY_S if self._is_flowing(now_s) else _LOOK_WAITING_EVERY_S
            if self._marks or now_s - self._looked_s >= look_every_s:
                self._set_marks()
                self._look(now_s)
                self._talk(now_s)
            time.sleep(_REST_S)

    def _talk(self, now_s: float) -> None:
        """Say to the logger what is due; one that prints lines is not spoken to."""
        if self._speech is not Speech.LINES:
            for command in self._dialog.due_commands(now_s):
                self._line.write(command)

    def _take(self, data: bytes, now_s: float) -> None:
        """Write what is whole: frames, or lines. The rest waits for its end: half a number lies."""
        self._rest += data
        if self._speech is Speech.UNKNOWN:
            self._recognise(now_s)
            if self._speech is Speech.UNKNOWN:
                return
        end = b"\n" if self._speech is Speech.LINES else b"\0"
        whole = len(self._rest) if len(self._rest) > _LONGEST_REST_BYTES else 0
        whole = self._rest.rfind(end) + 1 or whole
        if not whole:
            return
        ready, self._rest = self._rest[:whole], self._rest[whole:]
        if self._speech is Speech.LINES:
            self._file.write(ready)
            self._line_count += ready.count(b"\n")
            self._last_words = ready[:-1].rpartition(b"\n")[2].decode(errors="replace").strip()
            return
        self._file.write(self._host_time(now_s) + ready)
        self._unseen += ready

    def _recognise(self, now_s: float) -> None:
        """Find out how the logger speaks."""
        heard = recognise(self._rest)
        settings = self._settings
        if heard is Speech.OTHER_VERSION:
            self._file.write(self._rest)
            raise RecorderError(
                settings.port,
                f"the logger speaks another version of the frames than this ridelog ({VERSION});"
                " load the firmware that goes with it, or update ridelog. What came is kept in"
                f" {settings.file}",
            )
        if heard is Speech.UNKNOWN:
            self._judge_nonsense(now_s)
            return
        self._speech = heard
        if heard is Speech.FRAMES:
            self._file.write(frame(RECORDING_BODY) + self._waiting)
        self._waiting = b""

    def _judge_nonsense(self, now_s: float) -> None:
        """Give up where bytes come that are neither frames nor text."""
        settings, text = self._settings, is_text(self._rest)
        if len(self._rest) < (_LONGEST_REST_BYTES if text else _NONSENSE_BYTES):
            self._nonsense_since_s = now_s
        elif now_s - self._nonsense_since_s > _NONSENSE_S:
            self._file.write(self._rest)
            why = "text comes in, but no lines of numbers with commas or tabs between them."
            if not text:
                why = (
                    f"bytes come in, but neither frames nor lines of numbers: {settings.baud} baud"
                    " is most likely not the logger's rate; try --baud 500000, 115200, 250000 or"
                    " 1000000."
                )
            raise RecorderError(settings.port, f"{why} What came is kept in {settings.file}")

    def _look(self, now_s: float) -> None:
        """Decode what has come since the last look."""
        if self._unseen:
            self._live.feed(bytes(self._unseen), now_s)
            self._unseen.clear()
        elif self._speech is Speech.UNKNOWN and self._rest:
            self._judge_nonsense(now_s)
        self._looked_s = now_s
        self.snapshot = self._snapshot(now_s)

    def _set_marks(self) -> None:
        """Write the marks that were asked for, and have the logger stamp them."""
        while self._marks:
            number = self._marks.popleft()
            self._write_event(HOST_MARK, number=number)
            self._dialog.mark(number)

    def _host_time(self, now_s: float) -> bytes:
        """Record the host's clocks, unless that was done just now."""
        if now_s - self._told_time_s < _HOST_TIME_EVERY_S:
            return b""
        self._told_time_s = now_s
        times = HostTime(utc_ns=time.time_ns(), steady_ns=round(1e9 * now_s))
        return frame(pack_host_time(times))

    def _write_event(self, code: int, number: int = 0, words: str = "") -> None:
        """Record an event; before it is known how the logger speaks, keep it waiting."""
        if self._speech is Speech.LINES:
            return
        self._told_time_s = 0.0
        event = frame(pack_host_event(HostEvent(code=code, number=number, words=words)))
        record = self._host_time(time.monotonic()) + event
        if self._file.size_bytes:
            self._file.write(record)
        else:
            self._waiting += record

    def _lose_port(self) -> None:
        """Write down that the port is gone, and close what is left of it."""
        self._look(time.monotonic())
        self._line.close()
        self._write_event(PORT_LOST, words=self._line.device)
        self._live.interrupt()
        self._restart("unplugged: waiting for it to come back")

    def _wait_for_port(self, stop: threading.Event) -> None:
        """Try until the same device can be opened again."""
        self.snapshot = self._snapshot(time.monotonic(), connected=False)
        while not stop.wait(_TRY_AGAIN_S):
            self.snapshot = self._snapshot(time.monotonic(), connected=False)
            device = find_again(self._settings.port, self._identity)
            if device is None:
                continue
            try:
                self._line = Line(device, self._settings.baud)
            except RecorderError:
                continue  # it is there, but its permissions may take a moment
            if self._speech is Speech.LINES:
                self._begin_next_part()
            self._write_event(PORT_OPENED, words=device)
            self._restart("back again: waiting for the logger")
            return

    def _begin_next_part(self) -> None:
        """Begin another file: lines say nothing of a clock that may have begun anew."""
        self._file.close()
        self._file = RecordingFile(free_name(self._settings.file))
        self.parts.append(self._file.path)

    def _restart(self, words: str) -> None:
        """Begin to listen anew, to a logger that may have been started anew."""
        self._words = words
        self._rest = b""
        self._unseen = bytearray()
        self._looked_s = self._told_time_s = 0.0
        self._nonsense_since_s = time.monotonic()
        self._dialog.restart()

    def _say_farewell(self) -> None:
        """Stop the logger and take what is still on its way, its last counts among it."""
        if self._speech is not Speech.FRAMES:
            return
        try:
            self._look(time.monotonic())
            self._line.write(self._dialog.farewell())
            end_s = time.monotonic() + _FAREWELL_S
            while (now_s := time.monotonic()) < end_s:
                if data := self._line.read():
                    self._take(data, now_s)
                self._look(now_s)
                if self._dialog.said_farewell():
                    return
        except PortLostError:
            return

    def _finish(self) -> None:
        """Close the file; one that nothing was received for is not left behind."""
        try:
            if self._speech is Speech.UNKNOWN and self._file.size_bytes == 0:
                self._file.write(self._rest)
            elif self._speech is Speech.FRAMES:
                self._write_event(RECORDING_ENDED)
            self.snapshot = self._snapshot(time.monotonic())
        except RecorderError:
            return  # the one that brought us here says it
        finally:
            self._file.close(keep=self._file.size_bytes > 0)

    def _snapshot(self, now_s: float, *, connected: bool = True) -> Snapshot:
        return take_snapshot(
            self._live,
            now_s=now_s,
            elapsed_s=now_s - self._begun_s,
            speech=self._speech,
            waiting_for="" if self._is_flowing(now_s) else self._words,
            connected=connected,
            line_count=self._line_count,
            last_words=self._last_words,
            mark_count=self._mark_count,
            size_bytes=self._file.size_bytes,
        )

    def _is_flowing(self, now_s: float) -> bool:
        """Tell whether samples or lines are coming."""
        if self._speech is Speech.LINES:
            return True
        return now_s - self._live.last_sample_s < _FLOWS_WITHIN_S
