"""Over a thousand processes killed while they change presets: none is lost, none is half."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[3]


@pytest.mark.shared_out
@pytest.mark.skipif(not hasattr(os, "fork"), reason="the processes are forked, which this system cannot")
def test_a_kill_at_any_moment_loses_nothing(tmp_path):
    # A process of its own: this one has threads, which forks do not take along.
    run = subprocess.run(
        [sys.executable, "-m", "tests.core.presets.kills", str(tmp_path / "presets")],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    told = json.loads(run.stdout)
    assert told["wrong"] == []
    assert 200 < told["moments"] <= 1040, "each is a moment to die at, and each was"
    assert told["killed"] == 1300
