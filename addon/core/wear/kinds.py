"""What a material is, told from how it shades and not from its name, so that each layer can treat it as such."""

from collections.abc import Collection
from dataclasses import dataclass

OPAQUE = "opaque"
TRANSPARENT = "transparent"
METALLIC = "metallic"
RUBBER = "rubber"

_THROUGH = 0.1  # share of the light from which a brick is seen through
_METAL = 0.5
_RUBBER = 0.8  # moulded plastic stays glossier; common practice, no published source


@dataclass(frozen=True)
class Rubbed:
    """What a fully rubbed edge of a material looks like. Common practice, no published source."""

    whitening: float  # share of the way to white
    roughness: float


RUBBED = {
    OPAQUE: Rubbed(0.5, 0.45),  # whitened, and no longer glossy
    TRANSPARENT: Rubbed(0.0, 0.6),  # frosted
    METALLIC: Rubbed(0.0, 0.3),  # polished
    RUBBER: Rubbed(0.15, 0.5),  # greased and polished
}


@dataclass(frozen=True)
class Moulded:
    """How new plastic of a kind shades. Roughness is common practice, no published source."""

    roughness: float
    index_of_refraction: float


_ABS = 1.54  # a blend without one published value; handbooks give 1.53 to 1.54, from memory
_POLYCARBONATE = 1.585  # at 587.6 nm: Sultanova, Kasarova, Nikolov, Acta Physica Polonica A 116, 585 (2009)
_STYRENE_RUBBER = 1.53  # from memory

MOULDED = {
    OPAQUE: Moulded(0.16, _ABS),
    TRANSPARENT: Moulded(0.04, _POLYCARBONATE),
    METALLIC: Moulded(0.22, _ABS),  # lacquered or plated over the same plastic
    RUBBER: Moulded(0.85, _STYRENE_RUBBER),
}


@dataclass(frozen=True)
class Shading:
    """The values of a shader that tell its kind; None where nodes feed the value."""

    transmission: float | None
    alpha: float | None
    metallic: float | None
    roughness: float | None


def kind(shading: Shading) -> str:
    """OPAQUE, TRANSPARENT, METALLIC or RUBBER. Who feeds transmission by nodes means glass; a fed alpha cuts out."""
    if shading.transmission is None or shading.transmission > _THROUGH:
        return TRANSPARENT
    if shading.alpha is not None and shading.alpha < 1.0 - _THROUGH:
        return TRANSPARENT
    if shading.metallic is not None and shading.metallic >= _METAL:
        return METALLIC
    if shading.roughness is not None and shading.roughness >= _RUBBER:
        return RUBBER
    return OPAQUE


def all_dull(roughnesses: Collection[float | None]) -> bool:
    """Whether every material of a build is as rough as rubber: then it is the export's way, and tells no rubber."""
    return bool(roughnesses) and all(each is not None and each >= _RUBBER for each in roughnesses)
