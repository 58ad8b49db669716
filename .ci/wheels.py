"""The wheels that the manifest names, put together again from what pyproject.toml's pins installed here.

Nothing is fetched and no binary is kept: a wheel is a zip of its files and a list of their sums, and the list below
is the publisher's, so what is bundled is what was published and what the tests ran with.
"""

import base64
import hashlib
import os
import zipfile
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

# sha256 over the lines of RECORD of the published wheel, sorted, its own line left out.
PUBLISHED = {
    "pycollada-0.9.3": "5608be61e913f22e633efb60dce82eb4061a438149b4379158b7c03286a252b1",
    "python_dateutil-4.0.0": "dc6a29abcbefbead110fa19f3c98fba65405519e71d3429cb5dea1a8ec875c4b",
}
OF_THE_INSTALLER = {"INSTALLER", "REQUESTED", "RECORD", "direct_url.json"}


def put_together(wheel: Path) -> None:
    """Write one pure wheel, the same bytes each time; SystemExit where what is installed is not what was published."""
    name, version, *_ = wheel.name.split("-")
    try:
        installed = distribution(name)
    except PackageNotFoundError:
        raise SystemExit(f"{name} {version} is not installed here: run it through python3 -m uv run.") from None
    if installed.version != version:
        raise SystemExit(f"The manifest bundles {name} {version}, installed is {installed.version}: make them agree.")
    files = _files(installed)
    record = "".join(f"{path},sha256={_sum(data)},{len(data)}\n" for path, data in files.items())
    if hashlib.sha256(record.encode()).hexdigest() != PUBLISHED.get(f"{name}-{version}"):
        raise SystemExit(f"{name} {version} as installed here is not as it was published: install it again.")
    wheel.parent.mkdir(exist_ok=True)
    beside = wheel.with_name(f".{wheel.name}.{os.getpid()}")
    with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as zipped:
        for path, data in (files | {_record_of(files): _with_itself(record, files)}).items():
            zipped.writestr(zipfile.ZipInfo(path), data, zipfile.ZIP_DEFLATED)
    beside.replace(wheel)


def _files(installed: Distribution) -> dict[str, bytes]:
    """What the publisher put into the wheel, by path."""
    listed = [path for path in installed.files or () if path.name not in OF_THE_INSTALLER]
    own = [path for path in listed if "__pycache__" not in path.parts]
    return {path.as_posix(): path.read_binary() for path in sorted(own)}


def _sum(data: bytes) -> str:
    return base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()


def _record_of(files: dict[str, bytes]) -> str:
    return next(path for path in files if path.endswith(".dist-info/WHEEL")).replace("WHEEL", "RECORD")


def _with_itself(record: str, files: dict[str, bytes]) -> str:
    return f"{record}{_record_of(files)},,\n"
