"""A COLLADA document: its XML, and the libraries that pycollada reads out of it."""

from pathlib import Path
from xml.etree import ElementTree

from collada import Collada
from collada.common import DaeError, tagger
from collada.geometry import Geometry

LARGEST = 2**30  # bytes; as a tree a file takes several times its size in memory
DEEPEST = 400  # elements within each other; builds need about ten
FACES = ("triangles", "polylist", "polygons", "tristrips", "trifans")


def read(path: Path) -> "Document":
    """The document; ValueError says what is wrong with it."""
    if path.stat().st_size > LARGEST:
        raise ValueError("it is larger than 1 GB: export the build in parts")
    return Document(path.read_bytes())


class Document(Collada):
    """Asset, pictures, effects, materials and geometries as pycollada reads them; what it cannot read is in `errors`.

    Nodes are left to tree.py, since pycollada has no bound for what refers to itself. The file's bytes are never given
    to pycollada, which would unpack them where they are a zip and let lxml, where there is one, expand entities.
    """

    def __init__(self, data: bytes):
        super().__init__(ignore=[DaeError])
        self.root = _root(data)
        self.xmlnode = ElementTree.ElementTree(self.root)
        namespace = self.root.tag.rpartition("}")[0]
        self.tag = tagger(namespace[1:]) if namespace else str
        self._tidy()
        self._loadAssetInfo()
        self._loadImages()
        self._loadEffects()
        self._loadMaterials()
        self._loadGeometry()

    @property
    def unit(self) -> float:
        """Metres in one unit of the file; 1 where it says nothing, as the standard has it."""
        stated = self.root.find(f"{self.tag('asset')}/{self.tag('unit')}")
        unit = float(stated.get("meter", 1.0)) if stated is not None else 1.0
        if not 1e-9 < unit < 1e9:
            raise ValueError(f"its unit is {unit:g} m")
        return unit

    @property
    def up(self) -> str:
        """'X_UP', 'Y_UP' or 'Z_UP'; Y where the file says nothing, as the standard has it."""
        return self.assetInfo.upaxis

    def geometry(self, key: str) -> Geometry:
        """The geometry with this id; ValueError where it is missing or was unreadable."""
        found = self.geometries.get(key)
        if found is None:
            reasons = "; ".join(error.msg for error in self.errors[:1])
            raise ValueError(f"its geometry {key} is missing or broken{': ' * bool(reasons)}{reasons}")
        return found

    def _tidy(self):
        # pycollada drops a whole geometry or effect over a part of it that says nothing about faces or colour.
        kept = {self.tag(name) for name in ("source", "vertices", *FACES)}
        for mesh in self.root.iter(self.tag("mesh")):
            mesh[:] = [child for child in mesh if child.tag in kept]
            for accessor in mesh.iter(self.tag("accessor")):
                _check_stride(accessor, self.tag("param"))
        extra = self.tag("extra")
        for effect in self.root.iter(self.tag("effect")):
            for parent in [parent for parent in effect.iter() if parent.find(extra) is not None]:
                parent[:] = [child for child in parent if child.tag != extra]


def _root(data):
    if data.startswith(b"PK"):
        raise ValueError("it is packed as .zae: unpack it first")
    # Of every encoding that the parser knows this leaves the letters in place.
    if b"<!DOCTYPE" in data.replace(b"\0", b""):
        raise ValueError("it declares a document type, which COLLADA has no use for and through which a file does harm")
    root = ElementTree.fromstring(data)
    if root.tag.rpartition("}")[2] != "COLLADA":
        raise ValueError(f"it holds <{root.tag[:40]}> and not <COLLADA>")
    level, depth = [root], 0
    while level:
        level, depth = [child for element in level for child in element], depth + 1
        if depth > DEEPEST:
            raise ValueError(f"its elements are nested deeper than {DEEPEST}")
    return root


def _check_stride(accessor, param):
    """Three-fold texture coordinates go by any name, pycollada knows one; it reads no stride or offset of its own."""
    params = accessor.findall(param)
    stride = int(accessor.get("stride", 1))
    if stride != len(params) or int(accessor.get("offset", 0)):
        raise ValueError(f"its source {accessor.get('source')} is interleaved")
    if [each.get("name") for each in params] in (list("UVW"), list("STR")):
        for each, name in zip(params, "STP", strict=True):
            each.set("name", name)
