"""Misspells, drops or changes each thing that a layer's declaration says, one at a time: does a test see it?

    python bench/mutants.py [WORD ...]      only the mutants whose description has every word
    python bench/mutants.py --from 200      only those from the 200th on

Each mutant is written into a copy of the checkout, where TESTS run until one fails. Prints a line a mutant and the
count; ends with 1 where one survives. Most take a second of processor, those of nodes five.
"""

import argparse
import ast
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import hypothesis
import jsonschema
import numpy as np
import pytest
import scipy.stats

CHECKOUT = Path(__file__).resolve().parents[1]
LAYERS, NAMES = Path("addon/core/wear/layers.py"), Path("addon/core/wear/names.py")
GROUP, INSERTION = Path("addon/nodes/groups/wear.py"), Path("addon/nodes/insertion.py")
TESTS = [  # the quickest first; those of nodes alone can see a mutant of nodes
    ["tests/core/wear/test_layers.py", "tests/core/presets/test_preset_schema.py"],
    ["tests/core/wear/test_texture.py", "tests/core/wear/test_marking.py", "tests/core/wear/test_amounts.py"],
    ["tests/package/test_docs.py"],
    ["tests/core/presets/test_preset.py", "tests/core/wear/test_texture_findings.py"],
    ["tests/core/wear/test_texture_marks.py"],
]
OF_NODES = [["tests/blender/wear/test_wear_attach.py", "tests/blender/wear/test_layers.py"]]
SLOW = "not mutated and not any_ and not reads_back and not equally_strong"
_HOW = ["--whole", "-q", "-x", "-n0", "-p", "no:cacheprovider", "-k", SLOW]
# Past Blender's own end, which hangs now and then.
_RUN = "import os, sys, pytest; code = pytest.main(sys.argv[1:]); sys.stdout.flush(); os._exit(code)"
_LOADED = (
    hypothesis,
    jsonschema,
    np,
    scipy.stats,
)  # before each mutant's process forks off: they take longer than a test
OTHERS = {  # what stands in the place of a name
    "hairlines.scratches": "specks.dust", "fingers.smudges": "hairlines.scratches", "specks.dust": "fingers.smudges",
    "marks.LINES": "marks.SOFT", "marks.SOFT": "marks.SPECKS", "marks.SPECKS": "marks.LINES",
    "words.SCRATCHES": "words.SMUDGES", "words.SMUDGES": "words.DUST", "words.DUST": "words.SCRATCHES",
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    file: Path
    line: int
    what: str
    text: str  # of the whole file


class Source:
    """A file whose parts are replaced by others."""

    def __init__(self, file: Path):
        self.file, self.text = file, (CHECKOUT / file).read_text("utf-8")
        self.tree = ast.parse(self.text)
        self._starts = [0]
        for line in self.text.encode().splitlines(keepends=True):
            self._starts.append(self._starts[-1] + len(line))

    def said(self, node: ast.AST) -> str:
        return ast.get_source_segment(self.text, node) or ""

    def without(self, node: ast.AST, what: str) -> Mutant:
        """The node, and the comma after it, gone."""
        data = self.text.encode()
        start, end = self._span(node)
        rest = data[end:].lstrip()
        end = len(data) - len(rest) + 1 if rest.startswith(b",") else end
        return self._made(node, f"{what} dropped", data[:start] + data[end:])

    def instead(self, node: ast.AST, new: str, what: str) -> Mutant:
        data = self.text.encode()
        start, end = self._span(node)
        return self._made(node, what, data[:start] + new.encode() + data[end:])

    def _span(self, node) -> tuple[int, int]:
        return self._starts[node.lineno - 1] + node.col_offset, self._starts[node.end_lineno - 1] + node.end_col_offset

    def _made(self, node, what: str, data: bytes) -> Mutant:
        return Mutant(self.file, node.lineno, what, data.decode())


def mutants() -> Iterator[Mutant]:
    yield from _of_declaration(Source(LAYERS))
    yield from _of_words(Source(NAMES), lambda text: text.startswith("playworn"), "property")
    for file in (GROUP, INSERTION):
        yield from _of_nodes(Source(file))


def _of_declaration(source: Source) -> Iterator[Mutant]:
    """Fields of the records and of Wear with all that they say."""
    for each in source.tree.body:
        if isinstance(each, ast.Assign) and isinstance(each.value, ast.Constant):
            yield from _of_value(source, each.value, source.said(each.targets[0]))
    for record in source.tree.body:
        if not isinstance(record, ast.ClassDef) or record.name in ("Share", "Picture", "Layer"):
            continue
        for each in record.body:
            if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name):
                what = f"{record.name}.{each.target.id}"
                yield source.instead(each.target, _misspelt(each.target.id), f"{what} misspelt")
                if len([one for one in record.body if isinstance(one, ast.AnnAssign)]) > 1:
                    yield source.without(each, what)
                for call in ast.walk(each):
                    if isinstance(call, ast.Call):
                        yield from _of_call(source, call, what)


def _of_call(source: Source, call: ast.Call, what: str) -> Iterator[Mutant]:
    """What stands in a call: each argument that can be left out dropped, words misspelt, numbers and names changed."""
    called = source.said(call.func)
    for n, value in enumerate(call.args):
        yield from _of_value(source, value, f"{what}: {called} {n}")
    for each in call.keywords:
        if (called, each.arg) == ("field", "metadata"):
            continue
        if called != "field":
            yield source.without(each, f"{what}: {each.arg}")
        yield from _of_value(source, each.value, f"{what}: {each.arg}")


def _of_value(source: Source, value: ast.expr, what: str) -> Iterator[Mutant]:
    match value:
        case ast.Constant(value=bool() as flag):
            yield source.instead(value, str(not flag), f"{what} turned over")
        case ast.Constant(value=str() as text):
            if text:
                yield source.instead(value, repr(_misspelt(text)), f"{what} {text!r} misspelt")
                yield source.instead(value, '""', f"{what} {text!r} dropped")
        case ast.Constant(value=int() as number):
            yield source.instead(value, str(number + 1), f"{what} {number} changed")
        case ast.Constant(value=float() as number):
            yield source.instead(value, repr(1.3 * number if number else 0.07), f"{what} {number} changed")
        case ast.Attribute():
            yield source.instead(value, OTHERS[source.said(value)], f"{what} {source.said(value)} changed")
        case ast.Tuple():
            for each in value.elts:
                yield source.without(each, f"{what} {source.said(each)}")
                yield from _of_value(source, each, what)


def _of_words(source: Source, wanted, what: str) -> Iterator[Mutant]:
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and wanted(node.value):
            said = source.said(node).replace(node.value, _misspelt(node.value))  # of an f-string too
            yield source.instead(node, said, f"{what} {node.value!r} misspelt")


def _of_nodes(source: Source) -> Iterator[Mutant]:
    """Sockets and layers by name, where nodes are made of them and where what is worked out is handed in."""
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Call) and source.said(node.func) in ("Socket", "amount"):
            for n, value in enumerate(node.args):
                if isinstance(value, ast.Constant) and (n == 0 or source.said(node.func) == "amount"):
                    what = f"{source.said(node.func)} {value.value!r}"
                    yield source.instead(value, repr(_misspelt(value.value)), f"{what} misspelt")
            if source.said(node.func) == "Socket" and isinstance(node.args[0], ast.Constant):
                yield source.instead(node, 'Socket("other", "")', f"Socket {node.args[0].value!r} dropped")
        if isinstance(node, ast.Dict):
            for key in node.keys:
                if isinstance(key, ast.Constant) and isinstance(key.value, str):
                    yield source.instead(key, repr(_misspelt(key.value)), f"handed in {key.value!r} misspelt")


def _misspelt(word: str) -> str:
    return word[:-1] if len(word) > 1 else word + "x"


def seen(mutant: Mutant) -> str:
    """What sees the mutant: a test, or an error before any could run; "" where nothing does."""
    with tempfile.TemporaryDirectory() as folder:
        place = _copied(Path(folder))
        (place / mutant.file).write_text(mutant.text, "utf-8")
        tests = OF_NODES if mutant.file in (GROUP, INSERTION) else TESTS + OF_NODES
        return next(filter(None, (_failed(place, some) for some in tests)), "")


def _failed(place: Path, tests: list[str]) -> str:
    """The first of the tests that fails, "" where all pass."""
    of_core = all(test.startswith("tests/core/") for test in tests)
    return _failed_here(place, tests) if of_core else _failed_apart(place, tests)


def _failed_here(place: Path, tests: list[str]) -> str:
    """The first that fails here. This process is a fork made for one mutant and has the libraries already."""
    os.chdir(place)
    sys.path.insert(0, str(place))
    with (place / "told.txt").open("w") as told, redirect_stdout(told), redirect_stderr(told):
        code = pytest.main([*_HOW, *tests])
    return _first(code, (place / "told.txt").read_text("utf-8"))


def _failed_apart(place: Path, tests: list[str]) -> str:
    """The first that fails in a process of its own, as Blender needs one."""
    command = [sys.executable, "-B", "-c", _RUN, *_HOW, *tests]
    done = subprocess.run(command, cwd=place, capture_output=True, text=True, errors="replace")
    return _first(done.returncode, done.stdout)


def _first(code: int, told: str) -> str:
    lines = [line for line in told.splitlines() if line.startswith(("FAILED", "ERROR"))] or [f"ended with {code}"]
    return lines[0].split(" - ")[0] if code else ""


def _copied(place: Path) -> Path:
    """A copy of what the tests need of the checkout."""
    files = subprocess.run(["git", "ls-files", "-z"], cwd=CHECKOUT, capture_output=True, text=True, check=True)
    for name in filter(None, files.stdout.split("\0")):
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(CHECKOUT / name, place / name)
    return place


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("words", nargs="*")
    parser.add_argument("--from", dest="start", type=int, default=1)
    asked = parser.parse_args()
    wanted = [each for each in mutants() if all(word in f"{each.file} {each.what}" for word in asked.words)]
    with get_context("fork").Pool(1) as worker:
        if broken := worker.apply(seen, [Mutant(LAYERS, 0, "none", (CHECKOUT / LAYERS).read_text("utf-8"))]):
            print(f"without any mutant: {broken}")
            return 1
    return bool(survivors(wanted[asked.start - 1 :]))


def survivors(wanted: list[Mutant]) -> int:
    """How many of the mutants no test sees; each is told."""
    survived = 0
    with get_context("fork").Pool(os.cpu_count(), maxtasksperchild=1) as workers:
        for mutant, by in zip(wanted, workers.imap(seen, wanted, chunksize=1), strict=True):
            survived += not by
            print(f"{by or 'SURVIVES':90.90}  {mutant.file.name}:{mutant.line} {mutant.what}", flush=True)
    print(f"{len(wanted)} mutants, {len(wanted) - survived} seen, {survived} survive")
    return survived


if __name__ == "__main__":
    sys.exit(main())
