"""Sequences of an artist's actions and ours, each compared with the artist's alone in a file that was never worn.

    python bench/sequences.py [--many 1000] [--seed 0] [--into FOLDER] [--shrink] [--only NAME,NAME]
    python bench/sequences.py --again STEPS.json

A sequence is what its number draws: a build, its size, up to 20 actions. Children run them; where one dies or takes
longer than two minutes, the next goes on behind that sequence, and it is counted as a crash. With a folder, what was
run is written there, a line each, and a second call goes on where the first one was stopped.

Prints how many ran, how many differ and in what, the slowest action, and for each kind of difference the steps that
lead to it, as `--again` takes them; with `--shrink` as few of them as still do.
"""

import argparse
import faulthandler
import json
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

MOST_STEPS = 20
HANG_S = 120.0  # a sequence


def drawn(number: int, only: set[str], most: int):
    """The sequence of a number, done and not ended."""
    from tests.blender.sequences import builds
    from tests.blender.sequences.hand import Seeded
    from tests.blender.sequences.sequence import ALL, WEIGHTS, Sequence

    random, hand = Random(number), Seeded(number)
    sequence = Sequence(random.choice(sorted(builds.BUILDS)), random.choice((12, 12, 12, 16, 16, 24, 40)))
    names = [name for name in sorted(ALL) if not only or name in only]
    weights = [WEIGHTS.get(name, 1.0) for name in names]
    if random.random() < 0.8:
        sequence.drawn("put_on", hand)
    for name in random.choices(names, weights, k=random.randint(1, most)):
        sequence.drawn(name, hand)
    return sequence


def child(numbers: range, only: set[str], most: int, shrinks: bool) -> None:
    """Runs sequences, and writes a line for each to the standard output."""
    from addon import register, unregister

    register()
    try:
        for number in numbers:
            print(json.dumps({"begun": number}), flush=True)
            print(json.dumps(_told(number, only, most, shrinks)), flush=True)
    finally:
        faulthandler.cancel_dump_traceback_later()
        unregister()


def _told(number: int, only: set[str], most: int, shrinks: bool) -> dict:
    from tests.blender.sequences.sequence import again, fewest

    _bound()
    sequence = drawn(number, only, most)
    steps, told = sequence.told.steps, sequence.told
    found = sequence.ended()
    if shrinks and found:
        wanted = {_sort(each) for each in found[:1]}

        def fails(fewer):
            _bound()
            return bool(wanted & {_sort(each) for each in again(sequence.build, sequence.count, fewer)})

        steps = fewest(sequence.build, sequence.count, steps, fails)
        found = again(sequence.build, sequence.count, steps)
    return {
        "number": number,
        "build": [sequence.build, sequence.count],
        "steps": steps,
        "slowest": told.slowest,
        "meant": dict(told.meant),
        "found": [_sort(each) for each in found],
        "first": [str(each) for each in found[:8]],
    }


def _bound() -> None:
    """Ends this process, and tells where it was, should what comes now take too long."""
    faulthandler.dump_traceback_later(HANG_S, exit=True)


def _sort(difference) -> str:
    name = f" {difference.name}" if difference.kind == "step" and difference.part != "said" else ""
    return f"{difference.kind}{name} {difference.part}"


def run(numbers: range, options: list[str], keep: Path | None) -> dict[int, dict]:
    """What became of each sequence by its number, children running them as far as they live."""
    ran = {}
    if keep and keep.is_file():
        ran = {told["number"]: told for told in map(json.loads, keep.read_text().splitlines())}
    waiting = [number for number in numbers if number not in ran]
    while waiting:
        last, begun = waiting[-1] + 1, None
        command = [sys.executable, __file__, "--child", str(waiting[0]), str(last), *options]
        with tempfile.TemporaryFile() as errors:
            process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=errors, text=True)
            for line in process.stdout:
                if not line.startswith("{"):
                    continue
                told = json.loads(line)
                if "begun" in told:
                    begun = told["begun"]
                    continue
                _keep(ran, told, keep)
                begun = None
            code = process.wait()
            errors.seek(0)
            said = errors.read()[-2000:].decode(errors="replace")
        waiting = [number for number in waiting if number not in ran]
        if begun is not None:
            empty = {"build": [], "steps": [], "slowest": [0, ""], "meant": {}}
            _keep(ran, {"number": begun, **empty, "found": [f"ended by {code}"], "first": [said]}, keep)
            waiting = [number for number in waiting if number != begun]
        elif code and waiting:
            raise SystemExit(f"a child ended by {code} before it began: {said}")
    return {number: ran[number] for number in numbers}


def _keep(ran: dict[int, dict], told: dict, keep: Path | None) -> None:
    ran[told["number"]] = told
    if keep:
        with keep.open("a") as file:
            file.write(json.dumps(told) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--many", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0, help="the first sequence's number")
    parser.add_argument("--into", type=Path, help="a folder where what was run is kept")
    parser.add_argument("--most", type=int, default=MOST_STEPS, help="actions of a sequence")
    parser.add_argument("--only", default="", help="names of actions, with commas between")
    parser.add_argument("--shrink", action="store_true")
    parser.add_argument("--again", type=Path, help="a file with a sequence: its build, its size and its steps")
    parser.add_argument("--child", type=int, nargs=2, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    only = set(filter(None, asked.only.split(",")))
    if asked.again:
        _again(json.loads(asked.again.read_text()))
    elif asked.child:
        child(range(*asked.child), only, asked.most, asked.shrink)
    else:
        options = [
            "--most",
            str(asked.most),
            *(["--shrink"] if asked.shrink else []),
            *(["--only", asked.only] if only else []),
        ]
        keep = None
        if asked.into:
            asked.into.mkdir(parents=True, exist_ok=True)
            keep = asked.into / "sequences.jsonl"
        _tell(run(range(asked.seed, asked.seed + asked.many), options, keep))


def _again(written: dict) -> None:
    from addon import register, unregister
    from tests.blender.sequences.sequence import again

    register()
    try:
        found = again(*written["build"], written["steps"])
    finally:
        unregister()
    print(*found or ["as never worn"], sep="\n")


def _tell(ran: dict[int, dict]) -> None:
    bad = [told for told in ran.values() if told["found"]]
    steps = Counter(step[0] for told in ran.values() for step in told["steps"])
    print(f"{len(ran)} sequences, {sum(steps.values())} actions of {len(steps)} kinds, {len(bad)} differ")
    slowest = max((tuple(told["slowest"]) for told in ran.values()), default=(0.0, ""))
    print(f"slowest action: {slowest[1]}, {slowest[0]:.2f} s of processor time")
    for why, count in sum((Counter(told["meant"]) for told in ran.values()), Counter()).most_common():
        print(f"  by purpose, {count} times: {why}")
    alike: dict[tuple, list[dict]] = {}
    for told in bad:
        kinds = tuple(sorted(set(told["found"])))
        alike.setdefault(kinds[:2], []).append(told)
    for several in sorted(alike.values(), key=len, reverse=True):
        example = min(several, key=lambda told: len(told["steps"]))
        print(f"\n{len(several)} x {', '.join(sorted(set(example['found'])))}: the shortest is {example['number']}")
        print("  " + json.dumps({"build": example["build"], "steps": example["steps"]}))
        print(*(f"  {line}" for line in example["first"]), sep="\n")


if __name__ == "__main__":
    main()
