"""Files that are there whole or not at all, whatever stands in their place and whoever was killed before."""

import errno
import os
import stat
import subprocess
import sys
import time

import pytest

from addon import atomic
from addon.core.errors import FileProblem

needs_links = pytest.mark.skipif(os.name == "nt", reason="links need a right that not everyone has there")


@needs_links
def test_what_a_link_points_at_is_written_and_the_link_stays(tmp_path):
    """As a shell's redirection does (POSIX, open without O_NOFOLLOW)."""
    real = tmp_path / "deep" / "real.txt"
    real.parent.mkdir()
    link = tmp_path / "link.txt"
    link.symlink_to(real)
    for words in ("first", "second"):
        atomic.check_writable(link)
        atomic.write_text(link, words)
        assert link.is_symlink()
        assert real.read_text() == words
    assert os.listdir(real.parent) == ["real.txt"]
    assert sorted(os.listdir(tmp_path)) == ["deep", "link.txt"]


@needs_links
def test_a_link_that_leads_to_itself_is_refused(tmp_path):
    link = tmp_path / "link.txt"
    link.symlink_to(link)
    for write in (atomic.check_writable, lambda path: atomic.write_text(path, "words")):
        with pytest.raises(FileProblem, match="leads to itself"):
            write(link)


@needs_links
def test_no_device_is_replaced_by_a_file(tmp_path):
    link = tmp_path / "null.txt"
    link.symlink_to(os.devnull)
    with pytest.raises(FileProblem, match="a device or a pipe"):
        atomic.write_text(link, "words")
    assert stat.S_ISCHR(os.stat(os.devnull).st_mode)


@needs_links
def test_rights_stay_those_of_the_file_that_was_there(tmp_path):
    path = tmp_path / "mine.txt"
    path.write_text("old")
    path.chmod(0o600)
    atomic.write_text(path, "new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anything")
def test_what_is_read_only_is_not_written_over(tmp_path):
    path = tmp_path / "kept.txt"
    path.write_text("old")
    path.chmod(0o444)
    with pytest.raises(FileProblem, match="may not be written over"):
        atomic.check_writable(path)


def test_the_longest_name_there_is(tmp_path):
    path = tmp_path / ("ü" * 120 + ".txt")  # 244 bytes of the 255 that Linux takes (limits.h, NAME_MAX)
    atomic.write_text(path, "words")
    assert path.read_text() == "words"
    assert os.listdir(tmp_path) == [path.name]


@pytest.mark.parametrize("ask", [atomic.check_writable, lambda path: atomic.write_text(path, "words")])
def test_a_name_too_long_is_a_sentence(tmp_path, ask):
    with pytest.raises(FileProblem, match="cannot be written"):
        ask(tmp_path / ("x" * 300 + ".txt"))
    assert os.listdir(tmp_path) == []


def test_a_blender_that_finds_no_room_is_not_told_as_a_missing_file(tmp_path):
    """Blender 4.5 and 5.2 raise these words where the disk is full, measured on a file system of 2 MB."""
    with pytest.raises(FileProblem) as caught, atomic.written(tmp_path / "a.blend"):
        raise RuntimeError(f"Error: {os.strerror(errno.ENOENT)}\n")
    assert "No such file" not in str(caught.value)
    assert "MB are free there" in str(caught.value)


def ended_process() -> int:
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


@pytest.mark.skipif(os.name == "nt", reason="there nobody can ask after a process")
def test_the_next_writer_sweeps_what_a_killed_one_left_and_nothing_else(tmp_path):
    machine, dead = atomic._machine(), ended_process()
    left = [f".a.{machine}-{dead}.unfinished.blend", f".b.{machine}-{dead}.unfinished.blend@"]
    kept = [
        f".c.{machine}-{os.getppid()}.unfinished.blend",  # of one that runs
        f".d.0badcafe-{dead}.unfinished.blend",  # of another machine, whose processes nobody knows here
        ".e.unfinished.blend",  # nobody's, however old
        f"f.{machine}-{dead}.unfinished.blend",
        "g.txt",
    ]
    for name in left + kept:
        (tmp_path / name).write_text("half")
    (tmp_path / f".h.{machine}-{dead}.unfinished").mkdir()
    atomic.write_text(tmp_path / "new.txt", "whole")
    assert sorted(os.listdir(tmp_path)) == sorted([*kept, "new.txt"])
    long_ago = time.time() - 2 * 86_400
    os.utime(tmp_path / kept[1], (long_ago, long_ago))
    os.utime(tmp_path / kept[2], (long_ago, long_ago))
    os.utime(tmp_path / kept[3], (long_ago, long_ago))
    earlier = tmp_path / f".i.{dead}.unfinished.blend"
    earlier.write_text("half")
    os.utime(earlier, (long_ago, long_ago))
    (tmp_path / ".notes.unfinished").mkdir()
    os.utime(tmp_path / ".notes.unfinished", (long_ago, long_ago))
    atomic.write_text(tmp_path / "new.txt", "whole")
    assert sorted(os.listdir(tmp_path)) == sorted([kept[0], *kept[2:], ".notes.unfinished", "new.txt"])
