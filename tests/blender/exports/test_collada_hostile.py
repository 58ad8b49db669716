"""What no COLLADA file may do: spoiled, endless and damaged ones are told in one sentence and leave nothing."""

import sys
import time
import zipfile
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon.core.errors import FileProblem
from addon.scene.exports import importers
from tests.blender.exports.dae import LEGS, NESTED, PRINTED, RED, TRIPOD, TWO, dae, geometry, images, materials, shading

# What no file may do


def zipped(text):
    path = Path(bpy.app.tempdir) / "packed.zip"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("build.dae", text)
    return path.read_bytes()


def doubling(levels):
    """Each node shows the one before it twice."""
    made = '<node id="n0"><instance_geometry url="#shape"/></node>'
    for level in range(1, levels):
        made += f'<node id="n{level}">' + f'<instance_node url="#n{level - 1}"/>' * 2 + "</node>"
    return f"<library_nodes>{made}</library_nodes>"


def chain(length):
    made = "".join(f'<node id="n{k}"><instance_node url="#n{k + 1}"/></node>' for k in range(length))
    return f'<library_nodes>{made}<node id="n{length}"><instance_geometry url="#shape"/></node></library_nodes>'


SHOW = '<node><instance_node url="#{}"/></node>'
LOOP = '<library_nodes><node id="a"><node><instance_node url="#b"/></node></node>'
LOOP += '<node id="b"><instance_node url="#a"/></node></library_nodes>'
TYPE = '<!DOCTYPE COLLADA [<!ENTITY x "ha">]>'
OUTSIDE = '<!DOCTYPE COLLADA [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
LAUGHS = "<!DOCTYPE COLLADA [" + '<!ENTITY l0 "lol">' + "".join(
    f'<!ENTITY l{k} "' + f"&l{k - 1};" * 10 + '">' for k in range(1, 12)
) + "]>"  # fmt: skip
HEAD = '<?xml version="1.0" encoding="utf-8"?>'
BAD = {
    "entity": (dae(asset="<title>&x;</title>").replace(HEAD, HEAD + TYPE), "document type"),
    "outside": (dae(asset="<title>&x;</title>").replace(HEAD, HEAD + OUTSIDE), "document type"),
    "laughs": (dae(asset="<title>&l11;</title>").replace(HEAD, HEAD + LAUGHS), "document type"),
    "type in utf-16": (dae().replace(HEAD, f'<?xml version="1.0" encoding="utf-16"?>{TYPE}').encode("utf-16"), "type"),
    "undefined entity": (dae(asset="<title>&x;</title>"), "undefined entity"),
    "packed": (lambda: zipped(dae()), "unpack"),
    "another root": ("<svg/>", "svg"),
    "no xml": ("solid brick", "syntax error"),
    "truncated": (dae()[:900], "no element found|unclosed"),
    "deep": (dae("<node>" * 5000 + "</node>" * 5000), "nested deeper"),
    "loop": (dae(SHOW.format("a"), libraries=LOOP), "contains itself"),
    "own parent": (dae('<node id="a">' + SHOW.format("a") + "</node>"), "contains itself"),
    "doubling": (dae(SHOW.format("n40"), libraries=doubling(41)), "more than"),
    "empty doubling": (dae(SHOW.format("n40"), libraries=doubling(41).replace("instance_geometry", "x")), "more than"),
    "chain": (dae(SHOW.format("n0"), libraries=chain(5000)), "deeper than"),
    "missing node": (dae(SHOW.format("x")), "node x is missing"),
    "missing shape": (dae(shapes=""), "geometry shape is missing"),
    "another file": (dae('<node><instance_geometry url="other.dae#x"/></node>'), "another file"),
    "no address": (dae("<node><instance_geometry/></node>"), "another file"),
    "not a number": (dae(shapes=geometry(points=TRIPOD.replace("3", "NaN"))), "not a number"),
    "endless": (dae(shapes=geometry(points=TRIPOD.replace("3", "inf"))), "not a number"),
    "too large": (dae(shapes=geometry(points=TRIPOD.replace("3", "1e60"))), "not a number"),
    "words": (dae(shapes=geometry(points=TRIPOD.replace("3", "high"))), "numbers|COLLADA"),
    "decimal commas": (dae(shapes=geometry(points="0,5 0 0  1 0 0  0 2 0  0 0 3")), "numbers|COLLADA"),
    "few numbers": (dae(shapes=geometry().replace('count="12"', 'count="15"')), "12 numbers and not 15"),
    "beyond": (dae(shapes=geometry().replace(LEGS, LEGS.replace("3", "4"))), "COLLADA"),
    "below": (dae(shapes=geometry().replace(LEGS, LEGS.replace("3", "-1"))), "not in it"),
    "odd corners": (dae(shapes=geometry().replace(LEGS, LEGS + " 1")), "COLLADA"),
    "few faces": (dae(shapes=geometry().replace('<triangles count="4"', '<triangles count="9"')), "not 9"),
    "interleaved": (dae(shapes=geometry().replace('stride="3"', 'stride="8"')), "interleaved"),
    "unit of zero": (dae(asset='<unit meter="0"/>'), "unit is 0 m"),
    "unit of nothing": (dae(asset='<unit meter="nan"/>'), "unit is nan m"),
    "unit of words": (dae(asset='<unit meter="inch"/>'), "COLLADA"),
    "half a transform": (dae("<node><translate>1 2</translate><instance_geometry url='#shape'/></node>"), "translate"),
    "wild transform": (dae("<node><scale>1 nan 1</scale><instance_geometry url='#shape'/></node>"), "scale"),
    "no mesh": (dae("<node/>"), "no mesh"),
}  # fmt: skip


@pytest.mark.shared_out
@pytest.mark.parametrize("what", BAD)
def test_bad_files_are_told_in_one_sentence_and_leave_nothing(empty_scene, tmp_path, what):
    content, words = BAD[what]
    content = content() if callable(content) else content
    path = tmp_path / "bad.dae"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    before = {prop.identifier: len(getattr(bpy.data, prop.identifier)) for prop in bpy.data.bl_rna.properties
              if prop.type == "COLLECTION"}  # fmt: skip
    start = time.perf_counter()
    with pytest.raises(FileProblem, match=words) as caught:
        importers.bring(path)
    assert time.perf_counter() - start < 20, "seconds"
    assert len(str(caught.value).splitlines()) == 1
    assert before == {name: len(getattr(bpy.data, name)) for name in before}


@pytest.mark.shared_out
def test_damage_anywhere_is_a_sentence_or_a_build(empty_scene, tmp_path):
    """Bytes changed, cut out and doubled at random, seeded: nothing but a FileProblem, and no long wait."""
    nodes = '<node name="left"><instance_node url="#pair"/></node>'
    effects = materials(body=PRINTED, print=shading("phong", diffuse=RED, transparency="<float>0.4</float>"))
    whole = dae(nodes, geometry(faces=TWO), NESTED + effects + images("print.png"), '<unit meter="0.01"/>').encode()
    rng = np.random.default_rng(16)
    path, read = tmp_path / "damaged.dae", 0
    for _ in range(200):
        data = bytearray(whole)
        for _ in range(rng.integers(1, 6)):
            start, length = int(rng.integers(len(data))), int(rng.integers(1, 12))
            match rng.integers(4):
                case 0:
                    data[start] = int(rng.integers(256))
                case 1:
                    del data[start : start + length]
                case 2:
                    data[start:start] = data[start : start + length]
                case _:
                    data[start : start + 1] = bytes(rng.choice(list(b'0123456789.-e<>/#" '), 1).tolist())
        path.write_bytes(data)
        begun = time.perf_counter()
        try:
            read += len(importers.bring(path)[0].objects) > 0
        except FileProblem:
            assert len(bpy.data.objects) == 0
        bpy.data.batch_remove(bpy.data.objects)
        assert time.perf_counter() - begun < 10, "seconds"
    assert 0 < read < 200


def test_a_copy_without_the_library_says_so(empty_scene, tmp_path, monkeypatch):
    for name in [name for name in sys.modules if name.split(".")[0] == "collada" or ".exports.dae" in name]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.delattr("addon.scene.exports.dae", raising=False)
    monkeypatch.setitem(sys.modules, "collada", None)
    monkeypatch.setitem(sys.modules, "collada.common", None)
    (tmp_path / "it.dae").write_text(dae())
    with pytest.raises(FileProblem, match="needs the library pycollada"):
        importers.bring(tmp_path / "it.dae")
