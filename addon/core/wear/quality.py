"""How finely the wear is shaded: what a render may cost."""

from dataclasses import dataclass, replace

from ..errors import DialProblem


@dataclass(frozen=True)
class Quality:
    """One of the tiers.

    `edge_samples` rays round an edge, 0 for edges as sharp as the mesh, which are then not rubbed either. `dust` says
    whether dust is shown. `fine` is what reads from close by alone: the depth of scratches, which else are dull only,
    faces that are not quite flat, dust that lies thicker in corners, and the last pixels of the stand-ins.
    """

    name: str
    label: str
    shows: str
    cost: str  # render time over that of the clean build, from a wide to a close camera
    edge_samples: int
    dust: bool
    fine: bool
    mesh_edges: bool = False  # whether edges are also those that the meshes themselves have rounded

    @property
    def normals(self) -> bool:
        """Whether anything bends the normal of a surface."""
        return self.fine or self.edge_samples > 0

    def on_meshes(self, all_rounded: bool) -> "Quality":
        """The same where meshes are rounded: the renderer looks for edges only where some are not."""
        return replace(self, mesh_edges=True, edge_samples=0 if all_rounded else self.edge_samples)

    @property
    def meaning(self) -> str:
        return f"{self.shows}; renders in {self.cost} times what the clean build takes"


# Costs: the lighthouse in Cycles on a GPU, 1920x1080, meshes rounded; the draft's on a processor.
DRAFT = Quality("draft", "Draft", "Colours, smudges and dull scratches, sharp edges", "1.1 to 1.2", 0, False, False)
STANDARD = Quality(
    "standard",
    "Standard",
    "Every layer, but no depth of scratches and no dust in corners",
    "1.1 to 1.3",
    4,
    True,
    False,
)
CLOSE_UP = Quality(
    "close-up",
    "Close-up",
    "Scratches with depth, faces as moulded, dust thicker in corners, edges with less noise",
    "1.3 to 1.5",
    12,
    True,
    True,
)
QUALITIES = {each.name: each for each in (DRAFT, STANDARD, CLOSE_UP)}


SHADING, GEOMETRY = "shading", "geometry"
ROUNDINGS = {
    SHADING: "Edges look round where light meets them, in Cycles; the meshes stay as they are. Standard then "
    "renders in 1.4 to 1.9 times what the clean build takes, Close-up in 1.9 to 2.9",
    GEOMETRY: "Meshes with round edges, one a part, in place of the export's: for EEVEE and for outlines in close-ups",
}
USUAL_ROUNDING = GEOMETRY  # where an artist chooses none


def named(name: str) -> Quality:
    """The tier of this name; DialProblem where there is none."""
    if name not in QUALITIES:
        raise DialProblem(f'there is no quality "{name}": choose one of {", ".join(QUALITIES)}')
    return QUALITIES[name]
