"""What an artist says of single bricks, materials and places: fields that show the active one's, and store nothing."""

import bpy

from ... import usecases
from . import amounts, places

_PLACE_AMOUNT, _PLACE_SMOOTH = places.field("amount"), places.field("is_smooth")


class ByHand:
    brick_amount: bpy.props.FloatProperty(
        name="Selected Bricks",
        description="How much of what use brings the selected bricks have: 0 is new, 1 as the build, 2 twice. The "
        "field shows the active one's; it stays through Apply and Clear",
        min=0.0,
        max=usecases.MOST,
        subtype="FACTOR",
        get=amounts.brick_amount,
        set=amounts.give_to_bricks,
    )
    material_amount: bpy.props.FloatProperty(
        name="Material",
        description="How much of what use brings the active object's material has: 0 is new, 1 as the build, 2 twice. "
        "It stays through Apply",
        min=0.0,
        max=usecases.MOST,
        subtype="FACTOR",
        get=amounts.material_amount,
        set=amounts.give_to_material,
    )
    place_amount: bpy.props.FloatProperty(
        name="Place",
        description="How many times of what use brings there is in the middle of the active place: 0 is new, 1 as all "
        "around. Scale the empty for another radius",
        min=0.0,
        max=usecases.MOST_OF_PLACE,
        get=_PLACE_AMOUNT[0],
        set=_PLACE_AMOUNT[1],
    )
    place_smooth: bpy.props.BoolProperty(
        name="Smooth",
        description="The active place begins and ends softly, else it lessens straight from its middle to its rim",
        get=_PLACE_SMOOTH[0],
        set=_PLACE_SMOOTH[1],
    )
