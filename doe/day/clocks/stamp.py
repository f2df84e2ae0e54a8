"""What the clocks of a machine say at one moment: a wall clock that can be set, and one that nobody can set."""

from __future__ import annotations

import datetime as dt
import os
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
_DAY_SECONDS = 86_400
_UTC = dt.UTC


class Stamp(NamedTuple):
    """What the clocks of a machine say at one moment, and what the day's own time makes of it."""

    utc: float  #: the wall clock [s since 1970-01-01]
    offset: int  #: of local time from UTC, by the machine [s]
    boot: str  #: names this run of this machine; "" where nothing does
    seconds: float  #: of a clock that runs on while the machine sleeps, since some moment before [s]
    shift: float = 0.0  #: what is added to the wall clock, which was set during the day [s]
    zone: int | None = None  #: the day's own offset, where the machine's has changed [s]

    @property
    def moment(self) -> dt.datetime:
        """The day's own time, with offset, to the second."""
        zone = dt.timezone(dt.timedelta(seconds=self.offset if self.zone is None else self.zone))
        return dt.datetime.fromtimestamp(int(self.utc + self.shift), zone)

    def to_dict(self) -> dict[str, Any]:
        """As a line of the journal has it."""
        told: dict[str, Any] = {
            "utc": dt.datetime.fromtimestamp(round(self.utc, 3), _UTC).isoformat(timespec="milliseconds"),
            "offset": self.offset,
            "boot": self.boot,
            "seconds": round(self.seconds, 3),
        }
        more = {"shift": round(self.shift, 3)} if self.shift else {}
        return {**told, **more, **({} if self.zone is None else {"zone": self.zone})}


def stamp_of(told: object) -> Stamp | None:
    """What a line of the journal has, None where it is no stamp."""
    if not isinstance(told, dict):
        return None
    try:
        utc = dt.datetime.fromisoformat(told["utc"]).timestamp()
        zone = int(told["zone"]) if "zone" in told else None
        if max(abs(int(told["offset"])), abs(zone or 0)) >= _DAY_SECONDS:
            return None
        numbers = float(told["seconds"]), float(told.get("shift", 0.0))
        return Stamp(utc, int(told["offset"]), str(told["boot"]), *numbers, zone)
    except (KeyError, TypeError, ValueError, OverflowError):
        return None


def read_clock() -> Stamp:
    """The clocks of this machine, now."""
    wall = time.time()
    offset = dt.datetime.fromtimestamp(wall).astimezone().utcoffset() or dt.timedelta()
    return Stamp(wall, round(offset.total_seconds()), _boot(), _running_seconds())


def _running_seconds() -> float:
    """A clock that nobody can set, and that runs on while the machine sleeps."""
    if hasattr(time, "CLOCK_BOOTTIME"):  # Linux, where the monotonic clock stands still in sleep
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":  # clock_gettime(3): this one goes on, the one of time.monotonic stands still
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()


def _boot() -> str:
    """The name of this run of this machine; where the system has none, that of the machine."""
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return os.environ.get("COMPUTERNAME") or (os.uname().nodename if hasattr(os, "uname") else "")
