"""COLLADA written here after the text: Khronos, COLLADA 1.4.1 specification (2008)."""

import numpy as np

TRIPOD = "0 0 0  1 0 0  0 2 0  0 0 3"  # a corner with legs of 1, 2 and 3 along the file's axes
LEGS = "0 2 1  0 1 3  0 3 2  1 2 3"


def source(key, numbers, params, count=None):
    values = numbers.split()
    named = "".join(f'<param name="{name}" type="float"/>' for name in params)
    return f"""<source id="{key}"><float_array id="{key}-a" count="{count or len(values)}">{numbers}</float_array>
        <technique_common><accessor source="#{key}-a" count="{len(values) // len(params)}" stride="{len(params)}">
        {named}</accessor></technique_common></source>"""


def geometry(key="shape", points=TRIPOD, faces=None, sources=""):
    triangles = f'<triangles count="4"><input semantic="VERTEX" source="#{key}-v" offset="0"/><p>{LEGS}</p></triangles>'
    return f"""<geometry id="{key}"><mesh>{source(key + "-p", points, "XYZ")}{sources}
        <vertices id="{key}-v"><input semantic="POSITION" source="#{key}-p"/></vertices>{faces or triangles}
        </mesh></geometry>"""


def dae(nodes='<node name="it"><instance_geometry url="#shape"/></node>', shapes=None, libraries="", asset=""):
    return f"""<?xml version="1.0" encoding="utf-8"?>
    <COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"><asset>{asset}</asset>{libraries}
    <library_geometries>{geometry() if shapes is None else shapes}</library_geometries>
    <library_visual_scenes><visual_scene id="s">{nodes}</visual_scene></library_visual_scenes>
    <scene><instance_visual_scene url="#s"/></scene></COLLADA>"""


def places(obj):
    return np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices])


NESTED = """<library_nodes><node id="pair" name="pair"><node><instance_geometry url="#shape"/></node>
    <node><translate>0 0 9</translate><instance_node url="#one"/></node></node>
    <node id="one" name="one"><translate>1 0 0</translate><instance_geometry url="#shape"/></node></library_nodes>"""


# Materials: chapter 5, <bind_material>, <instance_material>; chapter 8, <effect>, <profile_COMMON>


def materials(**effects):
    """Libraries with a material for each effect, whose content is given; ids and names alike."""
    made = "".join(f'<material id="{key}"><instance_effect url="#{key}-fx"/></material>' for key in effects)
    made = f"<library_materials>{made}</library_materials><library_effects>"
    for key, content in effects.items():
        made += f'<effect id="{key}-fx"><profile_COMMON>{content}</profile_COMMON></effect>'
    return made + "</library_effects>"


def shading(kind, **values):
    inside = "".join(f"<{key}>{value}</{key}>" for key, value in values.items())
    return f'<technique sid="common"><{kind}>{inside}</{kind}></technique>'


def bound(**symbols):
    each = "".join(f'<instance_material symbol="{symbol}" target="#{key}"/>' for symbol, key in symbols.items())
    return f"<bind_material><technique_common>{each}</technique_common></bind_material>"


def principled(material):
    return next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")


RED = "<color>0.8 0.1 0 1</color>"
TWO = """<triangles count="1" material="body"><input semantic="VERTEX" source="#shape-v" offset="0"/><p>0 1 2</p>
    </triangles><triangles count="3" material="print"><input semantic="VERTEX" source="#shape-v" offset="0"/>
    <p>0 1 3  0 3 2  1 2 3</p></triangles>"""


def effect_of(read_dae, content, **more):
    libraries = materials(only=content) + more.pop("libraries", "")
    node = f'<node name="it"><instance_geometry url="#shape">{bound(body="only")}</instance_geometry></node>'
    shape = geometry(faces=TWO.replace("print", "body"), sources=more.pop("sources", ""))
    return read_dae(dae(node, shape, libraries, **more))["it"].data.materials[0]


TEXTURE = """<newparam sid="s"><surface type="2D"><init_from>img</init_from></surface></newparam>
    <newparam sid="m"><sampler2D><source>s</source></sampler2D></newparam>"""
PRINTED = TEXTURE + shading("phong", diffuse='<texture texture="m" texcoord="UV"/>')


def images(address):
    return f'<library_images><image id="img"><init_from>{address}</init_from></image></library_images>'
