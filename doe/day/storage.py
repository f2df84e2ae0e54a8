"""Writing to disk so that nothing is ever there by halves, whatever stops the machine, and one writer at a time."""

from __future__ import annotations

import errno
import os
import stat
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from doe.errors import DoeError

LOCK = ".pulls.lock"
#: what a writer leaves that is stopped in `write_atomically`: one that held the folder, and one that didn't
_UNFINISHED, _UNFINISHED_UNHELD = ".part", ".writing"
_PATIENCE_SECONDS = 30.0
_RETRY_SECONDS = 0.005
_NETWORK_SYSTEMS = ("nfs", "cifs", "smb", "9p", "afs", "fuse.sshfs", "fuse.rclone", "ncpfs", "davfs", "glusterfs")
_WINDOWS_REMOTE_DRIVE = 4
_NO_SUCH_SERVICE = (errno.EINVAL, errno.ENOTSUP, errno.ENOSYS)  # fsync(2): the file system can't sync a folder


def write_atomically(path: Path, text: str) -> None:
    """Write a whole file, UTF-8: to a temporary file, synced, then renamed over the old one."""
    with written_atomically(path) as file:
        file.write(text)


@contextmanager
def written_atomically(path: Path) -> Iterator[TextIO]:
    """Write a file bit by bit, UTF-8, to a temporary file that is synced and renamed over the old one at the end."""
    suffix = _UNFINISHED if _holder(path.parent) in _held else _UNFINISHED_UNHELD
    part = path.with_name(f".{path.name}.{os.getpid()}-{threading.get_ident()}{suffix}")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            part.chmod(stat.S_IMODE(path.stat().st_mode))
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise OSError(error.errno, error.strerror, str(path)) from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def take_unfinished(folder: Path) -> None:
    """Take away what writers of a folder left that were stopped in `write_atomically`, whatever they wrote.

    Call it under the lock of the folder: whoever held it before is gone.
    """
    for part in folder.glob(f".*.*-*{_UNFINISHED}"):
        part.unlink(missing_ok=True)


class UnsureWriteError(OSError):
    """A write failed and could not be taken back: nobody can tell what of it is on the disk."""

    written: int = 0  #: bytes that the system may have taken


def append_synced(path: Path, data: bytes) -> None:
    """Add bytes at the end of a file, on disk when this returns.

    Raises
    ------
    OSError
        None of them is in the file, nor will a power cut bring one back.
    UnsureWriteError
        The first `written` of them may be in the file.
    """
    # A pipe that nobody reads would keep the opening, and the lock with it, for ever.
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    handle = os.open(path, flags, 0o666)
    try:
        before = _size_of_regular(handle)
        if before == 0:
            # The name first: a file whose name could not be made safe must not hold anything yet.
            sync_folder(path.parent)
        _add_or_take_back(handle, before, data)
    except OSError as error:
        error.filename = str(path)
        raise
    finally:
        with suppress(OSError):  # all is synced, or an error is on its way already
            os.close(handle)


def _size_of_regular(handle: int) -> int:
    """The size of an open file [byte].

    Raises
    ------
    OSError
        It is a pipe or a device.
    """
    info = os.fstat(handle)
    if not stat.S_ISREG(info.st_mode):
        raise OSError(errno.EINVAL, "this is no ordinary file but a pipe or a device")
    return info.st_size


def _add_or_take_back(handle: int, before: int, data: bytes) -> None:
    """Write on until everything is written (a full disk takes a part first) and synced, else cut it off again."""
    rest = data
    try:
        while rest:
            rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    except (OSError, KeyboardInterrupt) as error:
        _take_back(handle, before, len(data), error)
        raise


def _take_back(handle: int, before: int, most: int, error: BaseException) -> None:
    """Cut off what was written, and sync that: the system may have brought it to the disk unasked.

    Raises
    ------
    UnsureWriteError
        That failed, too.
    """
    written = most
    try:
        written = os.fstat(handle).st_size - before
        if written:
            os.ftruncate(handle, before)
            os.fsync(handle)
    except OSError as second:
        first = error if isinstance(error, OSError) else second
        unsure = UnsureWriteError(first.errno, first.strerror)
        unsure.written = written
        raise unsure from None


def cut_synced(path: Path, size: int) -> None:
    """Cut a file's end off, on disk when this returns."""
    with path.open("r+b") as file:
        file.truncate(size)
        file.flush()
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Sync a folder's list of files, where the system can: Windows can't, nor can some shared folders."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _NO_SUCH_SERVICE:
            raise
    finally:
        with suppress(OSError):
            os.close(handle)


def sync_again(path: Path) -> None:
    """Sync a file that is there already, and its name.

    Raises
    ------
    OSError
        The disk refuses: what the file shows may be gone after a power cut.
    """
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        with suppress(OSError):
            os.close(handle)
    sync_folder(path.parent)


_held: set[tuple[int, str]] = set()


def _holder(folder: Path) -> tuple[int, str]:
    """The one that holds a folder, if it is this thread."""
    return threading.get_ident(), os.path.realpath(folder)


class NoWritingError(DoeError):
    """A folder that can't be written in, or that can't be locked."""


@contextmanager
def only_writer(folder: Path, patience_seconds: float | None = None) -> Iterator[None]:
    """Hold the folder for writing. The lock belongs to the process: it goes when the process does, however it ends.

    Who holds a folder may hold it again: what writes one thing takes the lock by itself, and again within what writes
    several.

    Raises
    ------
    NoWritingError
        The folder can't be written in.
    DoeError
        Another process holds it for longer than `patience_seconds`.
    """
    holder = _holder(folder)
    if holder in _held:
        yield
        return
    path = folder / LOCK
    handle = _locked(path, _PATIENCE_SECONDS if patience_seconds is None else patience_seconds)
    _held.add(holder)
    try:
        yield
    finally:
        _held.discard(holder)
        _let_go(handle, path)


def _locked(path: Path, patience_seconds: float) -> int:
    """The lock file, opened and locked."""
    give_up = time.monotonic() + patience_seconds
    while True:
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise NoWritingError(
                f"{path.parent}: can't be written in ({error.strerror}), so nothing was written"
            ) from None
        try:
            if _try_lock(handle) and _still_there(handle, path):
                return handle
        except OSError as error:
            os.close(handle)
            raise NoWritingError(f"{path.parent}: can't be locked ({error.strerror}), so nothing was written") from None
        os.close(handle)
        if time.monotonic() > give_up:
            raise DoeError(
                f"{path.parent}: another doe has been writing here for {patience_seconds:g} s, so nothing was written;"
                " end it, then try again"
            )
        time.sleep(_RETRY_SECONDS)


if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        """Take the lock if it is free."""
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _still_there(handle: int, path: Path) -> bool:
        """Whether the file that was locked is the one that others see: an open file can't be taken away."""
        return True

    def _let_go(handle: int, path: Path) -> None:
        """Give the lock back; its file goes unless somebody waits with it."""
        with suppress(OSError):
            msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
            os.close(handle)
        with suppress(OSError):
            path.unlink()

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        """Take the lock if it is free."""
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _still_there(handle: int, path: Path) -> bool:
        """Whether the file that was locked is the one that others see: who held it before took it away."""
        try:
            return os.path.samestat(os.fstat(handle), path.stat())
        except FileNotFoundError:
            return False

    def _let_go(handle: int, path: Path) -> None:
        """Take the file away while it is locked, then give the lock back."""
        with suppress(OSError):
            path.unlink()
        with suppress(OSError):
            os.close(handle)


def on_network(folder: Path) -> bool:
    """Whether a folder lies on another machine's disk, as far as the system tells."""
    place = folder.resolve()
    if sys.platform == "win32":
        import ctypes

        drive = place.drive
        return drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(f"{drive}\\") == _WINDOWS_REMOTE_DRIVE
    return _system_of(place).startswith(_NETWORK_SYSTEMS)


def _system_of(place: Path) -> str:
    """The kind of file system that a path lies on, "" where the system keeps no list."""
    try:
        lines = Path("/proc/mounts").read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    mounts = [line.split(" ")[1:3] for line in lines]
    under = [
        (point.replace("\\040", " "), kind)
        for point, kind in mounts
        if place.is_relative_to(point.replace("\\040", " "))
    ]
    return max(under, key=lambda mount: len(mount[0]), default=("", ""))[1]
