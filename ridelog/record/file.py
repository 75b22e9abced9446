"""The file of a recording: only ever added to, written through at once, synced all the time."""

from __future__ import annotations

import itertools
import os
import threading
from pathlib import Path

from ridelog.errors import FileError, RecorderError

SYNC_EVERY_S = 0.15


def free_name(path: Path) -> Path:
    """Find a name for the next part of a recording that is not taken yet: ``drive-2.csv``.

    Parameters
    ----------
    path : Path
        The first part.
    """
    numbered = (path.with_stem(f"{path.stem}-{number}") for number in itertools.count(2))
    return next(part for part in numbered if not part.exists())


class RecordingFile:
    """A new file that bytes are added to.

    Every `write` hands its bytes to the operating system before it returns, so that they survive
    the end of this program, however it ends. A thread has them put on the disk every
    `SYNC_EVERY_S`, so that no more than that is lost with the power.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.size_bytes = 0
        if not path.parent.is_dir():
            raise FileError(path, f"there is no folder {path.parent}; make it first")
        flags = os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
        try:
            self._handle = os.open(path, flags, 0o644)
        except FileExistsError:
            raise FileError(path, "exists; nothing was recorded, choose another name") from None
        except OSError as error:
            raise FileError(path, f"cannot be written ({error.strerror})") from None
        self._failure: OSError | None = None
        self._fresh = threading.Event()
        self._ended = threading.Event()
        self._syncing = threading.Thread(target=self._sync_all_the_time, daemon=True)
        self._syncing.start()

    def write(self, data: bytes) -> None:
        """Add some bytes.

        Parameters
        ----------
        data : bytes
            Whole frames, or lines.

        Raises
        ------
        RecorderError
            When the disk is full or gone; what was written before is in the file.
        """
        left = memoryview(data)
        try:
            if self._failure is not None:
                raise self._failure
            while left:
                written = os.write(self._handle, left)
                self.size_bytes += written
                left = left[written:]
        except OSError as error:
            raise RecorderError(
                str(self.path),
                f"cannot be written any more ({error.strerror}); what was received until now is"
                " kept in it",
            ) from None
        self._fresh.set()

    def close(self, *, keep: bool = True) -> None:
        """Sync and close; a file that nothing was written to need not be kept.

        Parameters
        ----------
        keep : bool
            Whether to keep an empty file.
        """
        self._ended.set()
        self._fresh.set()
        self._syncing.join()
        os.close(self._handle)
        if not keep and self.size_bytes == 0:
            self.path.unlink(missing_ok=True)

    def _sync_all_the_time(self) -> None:
        """Put on the disk what is fresh, until the end."""
        while not self._ended.wait(SYNC_EVERY_S):
            self._fresh.wait()
            self._sync()
        self._sync()

    def _sync(self) -> None:
        self._fresh.clear()
        try:
            os.fsync(self._handle)
        except OSError as error:
            self._failure = error
