"""COLLADA, read by pycollada: the one library that is neither numpy nor Python's own, bundled because Blender 5 reads
no .dae and the reader of 4.5 takes Blender down with it over instanced nodes."""

from pathlib import Path

from ...core.errors import FileProblem


def load(path: Path) -> None:
    """Reads the file into the scene, metres and Z up by a root object; FileProblem or ValueError where it cannot."""
    document, tree, _, stand = _reader(path)
    dae = document.read(path)
    stand.up(dae, tree.spots(dae), path)


def stated(path: Path) -> dict[str, frozenset[str]]:
    """Which of "roughness", "ior" and "transmission" the effect of each material states, by the name load() gives the
    material; COLLADA's common profile has no word for metal."""
    document, _, effects, _ = _reader(path)
    return {effects.name(material): effects.stated(material.effect) for material in document.read(path).materials}


def _reader(path):
    try:
        from .dae import document, effects, stand, tree
    except ModuleNotFoundError as error:
        if error.name not in ("collada", "dateutil"):
            raise
        raise FileProblem(
            f'"{path}" needs the library pycollada, which is not here: install Playworn from its zip, '
            "or export the build as .glb"
        ) from None
    return document, tree, effects, stand
