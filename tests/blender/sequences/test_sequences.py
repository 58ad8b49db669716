"""Whatever an artist does to a worn build: cleared, it is what the artist alone would have made of it.

Hypothesis draws the sequences and shrinks what fails. What they are compared with is Blender itself: the same actions
of the artist in a file that was never worn. `python bench/sequences.py` runs as many as one likes. (Sequences are lists
here: a state machine of Hypothesis' keeps Blender 4.5 from ending under pytest.)
"""

import json

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from .builds import BUILDS
from .hand import Drawn
from .sequence import ALL, Sequence

LONGEST = 14
NAMES = st.lists(st.sampled_from(sorted(ALL)), min_size=2, max_size=LONGEST)


@settings(max_examples=9, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data(), build=st.sampled_from(sorted(BUILDS)), count=st.sampled_from((12, 16)), names=NAMES)
def test_cleared_it_is_what_the_artist_alone_would_have_made(extension, data, build, count, names):
    hand, sequence = Drawn(data.draw), Sequence(build, count)
    for name in ["put_on", *names]:
        sequence.drawn(name, hand)
    found = sequence.ended()
    steps = json.dumps({"build": [build, count], "steps": sequence.told.steps})
    assert not found, "\n".join([steps, *map(str, found)])
