"""How deep moved bodies cut into each other, whichever they are: what a fit and its file are judged by."""

import numpy as np

from .. import rigid
from ..build import interference, openings
from ..build.bricks import Bricks, Pieces
from ..build.contacts import depth_at_rest
from ..build.openings import CUT_MM
from ..build.touching import LODGED, Contacts
from ..near import among, near_pairs
from . import play
from .motions import Motions, moved


def largest_interference(bricks: Bricks, contacts: Contacts, motions: Motions) -> float:
    """Deepest cut (mm) of one moved body into another, less what the two overlap at rest."""
    return float(interferences(bricks, contacts, motions).max(initial=0.0))


def interferences(bricks: Bricks, contacts: Contacts, motions: Motions) -> np.ndarray:
    """The same of each brick's (N,) own body; 0 where it cuts into none."""
    pairs = np.stack([contacts.piece_a, contacts.piece_b], axis=1)
    pieces = bricks.pieces(motions.shrink)
    bodies = moved(bricks, motions, pieces)
    depth = interference.cuts(bodies, pairs, contacts.frames[:, 2], contacts.frame) - depth_at_rest(pieces, contacts)
    near = _met(bodies, pairs[contacts.kind != LODGED])
    inside = contacts.only(contacts.kind == LODGED)
    lies_in = among(bodies.brick[near], np.stack([inside.a, inside.b], axis=1))
    strangers = interference.penetration(bodies, near[~lies_in])
    openings_met = _in_openings(bricks, inside, motions, pieces, bodies, near[lies_in])
    through = _deeper(bricks, pieces, bodies, motions, openings_met)
    deepest = np.zeros(len(bricks))
    for met, cut in ((pairs, depth), (near[~lies_in], strangers), (openings_met, through)):
        for end in bodies.brick[met].T:
            np.maximum.at(deepest, end, cut)
    return deepest


def _in_openings(
    bricks: Bricks, inside: Contacts, motions: Motions, pieces: Pieces, bodies: Pieces, near: np.ndarray
) -> np.ndarray:
    """Pairs (P, 2) of what lies in a brick's openings and a piece of that brick, of bodies (K, 2) that are near: of
    such as have moved farther than their clearance, and of other pieces of the same bricks."""
    farther = play.steps(bricks, inside, np.arange(len(inside)), motions) * 2.0**0.5 > inside.gap
    ends = [np.stack([each.a, each.b], axis=1) for each in (inside, inside.only(farther))]
    lying = np.isin(bodies.brick[near] @ (len(bricks), 1), ends[0] @ (len(bricks), 1))
    inner, outer = np.where(lying[:, None], near, near[:, ::-1]).T
    passes, first, which = np.unique(inner * len(bricks) + bodies.brick[outer], return_index=True, return_inverse=True)
    pairs = np.stack([inner, outer], axis=1)[first]
    known = np.zeros(len(passes), dtype=bool)
    known[which.reshape(-1)[interference.penetration(pieces, near) > CUT_MM]] = True
    return pairs[~known | among(bodies.brick[pairs], ends[1])]


def _deeper(bricks: Bricks, pieces: Pieces, bodies: Pieces, motions: Motions, pairs: np.ndarray) -> np.ndarray:
    """How much deeper (P,) in mm than at rest the surface of the brick of each pair's second piece goes into the first,
    once bricks have moved: `pieces` shrunk at rest are then `bodies`."""
    found = np.empty(len(pairs))
    for n, (piece, outer) in enumerate(pairs.tolist()):
        brick = int(pieces.brick[outer])
        surface = openings.surface(bricks, brick, motions.shrink[brick])
        about = bricks.centre[brick]
        now = about + motions.shift[brick] + rigid.turned(motions.rotation[brick], surface - about)
        before = max(interference.pierced(pieces, piece, surface), 0.0)
        found[n] = interference.pierced(bodies, piece, now) - before
    return found


def _met(bodies: Pieces, known: np.ndarray) -> np.ndarray:
    """Pairs (P, 2) of bodies of two bricks that come together and are none of the `known` (K, 2)."""
    near = near_pairs(bodies.low, bodies.high, 0.0)
    near = near[bodies.brick[near[:, 0]] != bodies.brick[near[:, 1]]]
    return near[~among(near, known)]
