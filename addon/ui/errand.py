"""A command of ours that another Blender runs in the background, for which this one never waits."""

import os
import subprocess
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic

import bpy

_NICE = 10  # of 19: everything else goes before it
_LOW_ON_WINDOWS = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)


def is_open() -> bool:
    """Whether there is a Blender to start here: one with a window."""
    return bool(bpy.app.binary_path) and not bpy.app.background


def command(*words: str) -> list[str]:
    """How a Blender is told to run it; the add-on is named, for it may be on in this session alone."""
    package = (__package__ or "").rpartition(".addon.")[0]
    return [bpy.app.binary_path, "--background", "--addons", package, "--command", "playworn", *words]


class Errand:
    """A command under way, until `end`."""

    def __init__(self, words: Sequence[str], folder: TemporaryDirectory | None = None):
        """OSError where the program does not start; a folder is the errand's own, and goes with it."""
        self._folder = folder or TemporaryDirectory()
        self._said = Path(self._folder.name) / "said.txt"
        self._begun_s = monotonic()
        try:
            with self._said.open("wb") as said:
                self.process = subprocess.Popen(
                    words,
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=said,
                    creationflags=_LOW_ON_WINDOWS,
                )
        except OSError:
            self._folder.cleanup()
            raise
        if not _LOW_ON_WINDOWS:
            with suppress(OSError):  # it is over already
                os.setpriority(os.PRIO_PROCESS, self.process.pid, _NICE)

    @property
    def is_over(self) -> bool:
        return self.process.poll() is not None

    @property
    def took_s(self) -> float:
        return monotonic() - self._begun_s

    def told(self) -> list[str]:
        """The lines that it has said on standard error by now."""
        return self._said.read_text("utf-8", "replace").strip().splitlines()

    def end(self) -> str:
        """Takes the process along, whether it is over or not; what it said last where it failed, "" else."""
        if not self.is_over:
            self.process.kill()
        code, words = self.process.wait(), self.told()
        self._folder.cleanup()
        return (words[-1] if words else f"exit code {code}") if code else ""
