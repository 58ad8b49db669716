"""Mistakes a user can mend: each carries one sentence that says what is wrong, where, and what to do."""


class PlaywornError(Exception):
    """The root of every mistake that is told to the user instead of shown as a traceback."""


class FileProblem(PlaywornError):
    """A file or folder that cannot be read, understood or written."""


class BuildProblem(PlaywornError):
    """A build that has nothing the tool could work on."""


class Crowded(BuildProblem):
    """So many things in one place that no time is enough to compare them."""


class PresetProblem(PlaywornError):
    """A preset that is unknown, broken, newer than this version, or out of range."""


class DialProblem(PlaywornError):
    """A dial turned past its ends."""


class TextureProblem(PlaywornError):
    """A textures folder or an image in it that cannot be used."""


class ShotProblem(PlaywornError):
    """A shot that cannot be found, made, measured or put on the timeline."""


class Cancelled(PlaywornError):
    """The user stopped long work; nothing was written."""


class BundleProblem(PlaywornError):
    """A bundle that is damaged, holds what no bundle may, or cannot be made."""
