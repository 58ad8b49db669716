"""Raw properties of the wear by name. What shaders read, on a brick or on the scene, means clean where missing or 0."""

from .layers import LAYERS, SHARES

SHARE = "playworn_share"  # on a brick: its shares of the first three layers that have any, in their order, never 0
SHARES_OF = tuple(f"{SHARE}_{first}" if first else SHARE for first in range(0, len(SHARES), 3))  # and of further ones
OFFSET = "playworn_offset"  # on a brick: how far its marks are shifted, in mm
TURN = "playworn_turn"  # on a brick: sine and cosine of their turn in mm per unit of its mesh's axes, and these mm,
# less than 0 where it has a stud on every pitch of its top and each is at a whole number of pitches in SPOT
SPOT = "playworn_spot"  # on a brick: where it stood first in the build, in mm along its own axes
LOT = "playworn_lot"  # on a brick: how its colour lot deviates in red, green and blue, -1 to 1
UNREACHED = ("playworn_unreached", "playworn_unreached_up")  # on a brick: share of its sides at -x, -y and -z of its
# own axes, and of those at x, y and z, that no finger gets to
SHELTERED = ("playworn_sheltered", "playworn_sheltered_up")  # and of their sky that they do not see
UNLIT = ("playworn_unlit", "playworn_unlit_up")  # and of a window's light that they do not get; missing without one
OWN_MORE = "playworn_more"  # on a brick: so much more of what use brings than the build has, -1 none
PLACE = "playworn_place"  # on an empty: how much of what use brings there is in its middle, and whether it ends softly
WEAR = "playworn_wear"  # on the scene: the dial over all wear
COPIED_COLOUR = "playworn_copied_colour"  # on our node in a material: the constant colour that leads through it
SWATCHES = "playworn_swatches"  # on a picture of ours that shaders look colours up in: for which differences
MOTION = "playworn_motion"  # on a brick, where passes tell of it: how far its farthest corner went, in mm; and the pass
ROUNDED = "playworn_rounding"  # the pass of edges: 0 on a face, 1 on an edge
PASS = {layer: f"playworn_{layer}" for layer in LAYERS}  # the pass of each layer's mask
PASSES = (*PASS.values(), ROUNDED, MOTION)  # all that our nodes hand out
MORE = {layer: f"playworn_more_{layer}" for layer in LAYERS}  # on the scene: so much more of a layer, -1 none
# Sockets of our node in a material that are the artist's: 1 is the wear as the preset has it.
AMOUNT = "Amount"
MASK = {layer: f"{layer.capitalize()} mask" for layer in LAYERS}
