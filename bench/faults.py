"""Raises at every line that a job runs through, and compares the file with what it was before.

    python bench/faults.py [JOBS]

A line counts where it stands in scene, nodes or use cases; each is raised at once, the first time that it is reached.
Where the job was through by then, the file must be as after it.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from addon import register, unregister
from tests.blender.faults import JOBS, tried


def main() -> None:
    register()
    try:
        for name in sys.argv[1:] or JOBS:
            count, mixed = tried(JOBS[name])
            print(f"{name}: {count} lines, {len(mixed)} leave a mixed file", flush=True)
            for each in mixed:
                print(f"  {each.where}: {', '.join(each.parts)}")
    finally:
        unregister()


if __name__ == "__main__":
    main()
