"""What tests of exports share: a COLLADA text read as a file."""

import bpy
import pytest

from addon.scene.exports import collada


@pytest.fixture
def read_dae(empty_scene, tmp_path):
    """Reads a text as a file, unwelded and unsplit as the loader gives it; its mesh objects by name."""

    def reading(text: str | bytes, name="build.dae") -> dict[str, bpy.types.Object]:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        collada.load(path)
        bpy.context.view_layer.update()
        return {obj.name: obj for obj in bpy.data.objects if obj.type == "MESH"}

    return reading
