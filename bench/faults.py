"""Raises at every line that a job runs through, and compares the file with what it was before.

    python bench/faults.py [JOBS] [--share 1/3]

A line counts where it stands in scene, nodes or use cases; each is raised at once, the first time that it is reached.
`--share 1/3` raises at every third of them, from the first; 2/3 and 3/3 at the rest.
Where the job was through by then, the file must be as after it.
"""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from addon import register, unregister
from tests.blender.faults import JOBS, tried


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("jobs", nargs="*", default=list(JOBS))
    parser.add_argument("--share", default="1/1")
    asked = parser.parse_args()
    which, of = map(int, asked.share.split("/"))
    register()
    try:
        for name in asked.jobs:
            count, mixed = tried(JOBS[name], lambda lines: lines[which - 1 :: of])
            print(f"{name}: {count} lines, {len(mixed)} leave a mixed file", flush=True)
            for each in mixed:
                print(f"  {each.where}: {', '.join(each.parts)}")
    finally:
        unregister()


if __name__ == "__main__":
    main()
