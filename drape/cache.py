"""Results kept by content: what was worked out once is not worked out again.

In: a function's name and inputs, packed as plain text and arrays. Out: its result from the user's cache folder,
or from this process, equal to the byte; None when it is not there. The key covers the inputs, the package's source
and the versions and machine it ran on, so an edited checkout never gives old results. Nothing here fails a run:
a damaged or foreign file counts as none, a folder that cannot be written is left alone, and the files used longest
ago go first when there are too many. Files hold numbers and names only; reading one runs no code.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib.metadata
import json
import os
import platform
import re
import sys
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from drape import __version__
from drape.files import write_whole

T = TypeVar("T")

LARGEST = 500_000_000  # bytes of kept files; past it the ones used longest ago are removed
AT_HAND = 8  # results of `kept` this process holds besides, wherever the folder is
LIBRARIES = ("numpy", "scipy", "numba", "netgen-mesher", "shapely", "pyvista", "pillow", "matplotlib")
OURS = re.compile(r"\.?[0-9a-f]{64}(\.\d+)?\.npz")  # a kept file, or one being written

_at_hand: OrderedDict[str, Any] = OrderedDict()


def cache_folder() -> Path:
    """The folder for what drape may lose: DRAPE_CACHE_DIR, or drape's own in the user's cache folder.

    That is XDG_CACHE_HOME or the system's usual place; a relative XDG path is passed over (XDG Base Directory
    Specification 0.8). Raises RuntimeError if the user has no home.
    """
    if own := os.environ.get("DRAPE_CACHE_DIR"):
        return Path(own)
    for variable in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        home = os.environ.get(variable)
        if home and Path(home).is_absolute():
            return Path(home) / "drape"
    usual = ("Library", "Caches") if sys.platform == "darwin" else (".cache",)
    return Path.home().joinpath(*usual, "drape")


def kept(make: Callable[..., T], classes: tuple[type, ...], given: Mapping[str, Any]) -> T:
    """`make(**given)`, from an earlier call of the same content where there is one.

    classes: every dataclass and named tuple the result is built of. What `make` raises is raised, and not kept.
    """
    key = content_key(f"{make.__module__}.{make.__qualname__}", given)
    found = _at_hand.get(key)
    if found is None:
        found = recall(key, classes)
    if found is None:
        found = make(**given)
        keep(key, found)
    _at_hand[key] = found
    _at_hand.move_to_end(key)
    while len(_at_hand) > AT_HAND:
        _at_hand.popitem(last=False)
    return found


def content_key(*given: Any) -> str:
    """SHA-256 in hex over program, libraries, machine and the packed inputs."""
    return digest_of(program_digest(), *given)


def digest_of(*given: Any) -> str:
    """SHA-256 in hex over the packed inputs alone."""
    arrays: list[NDArray[Any]] = []
    text = json.dumps(pack(given, arrays))
    digest = hashlib.sha256(text.encode())
    for array in arrays:
        digest.update(f"{array.dtype.str} {array.shape} ".encode())
        digest.update(np.ascontiguousarray(array).data)
    return digest.hexdigest()


@functools.cache
def program_digest() -> str:
    """SHA-256 over what may change a result besides its inputs: version, source, libraries, machine."""
    said = [__version__, sys.version, platform.machine(), sys.platform]
    for name in LIBRARIES:
        with contextlib.suppress(importlib.metadata.PackageNotFoundError):
            said.append(f"{name} {importlib.metadata.version(name)}")
    digest = hashlib.sha256("\n".join(said).encode())
    package = Path(__file__).parent
    for path in sorted(package.rglob("*.py")):
        digest.update(path.relative_to(package).as_posix().encode() + hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def recall(key: str, classes: tuple[type, ...] = ()) -> Any:
    """The result kept under a key, built of `classes`; None when there is none that can be read."""
    try:
        path = _file(key)
        with open(path, "rb") as file, np.load(file, allow_pickle=False) as stored:
            said = json.loads(stored["words"].tobytes())
            if said["key"] != key:
                return None
            arrays = [stored[f"array {k}"] for k in range(said["count"])]
        found = unpack(said["value"], arrays, {one.__name__: one for one in classes})
    except Exception:  # whatever is wrong with the file, the result can be worked out again
        return None
    with contextlib.suppress(OSError):
        os.utime(path)  # used just now
    return found


def keep(key: str, value: Any) -> None:
    """Writes a result under a key, whole or not at all; where the folder cannot be written, not at all."""
    arrays: list[NDArray[Any]] = []
    words = json.dumps({"key": key, "value": pack(value, arrays), "count": len(arrays)})
    with contextlib.suppress(OSError, RuntimeError):
        path = _file(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        said: dict[str, Any] = {"words": np.frombuffer(words.encode(), np.uint8)}
        said |= {f"array {k}": array for k, array in enumerate(arrays)}
        write_whole(path, lambda passing: np.savez(passing, **said))
        make_room(path.parent)


def make_room(folder: Path, largest: int = LARGEST) -> None:
    """Removes our files used longest ago until the rest are at most `largest` bytes; other files are left."""
    found = []
    for path in folder.iterdir():
        if OURS.fullmatch(path.name):
            with contextlib.suppress(OSError):  # another run may have removed it
                state = path.stat()
                found.append((state.st_mtime_ns, path, state.st_size))
    total = 0
    for _, path, size in sorted(found, reverse=True):
        total += size
        if total > largest:
            with contextlib.suppress(OSError):
                path.unlink()


def pack(value: Any, arrays: list[NDArray[Any]]) -> Any:
    """A value as plain JSON, its arrays appended to `arrays` and named by their place there.

    Numbers, text, bytes, lists, tuples, named or not, mappings with text keys, arrays and dataclasses of these.
    Raises TypeError.
    """
    if isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            raise TypeError("keep: got an array of objects, allowed arrays of numbers or text.")
        arrays.append(value)
        return {"array": len(arrays) - 1}
    if isinstance(value, bytes):
        arrays.append(np.frombuffer(value, np.uint8))
        return {"bytes": len(arrays) - 1}
    if value is None or isinstance(value, (bool, int, float, str)):
        return value.item() if isinstance(value, np.generic) else value
    if isinstance(value, (np.integer, np.bool_)):
        return value.item()
    if is_dataclass(value) and not isinstance(value, type):
        return {
            "of": type(value).__name__,
            "fields": {f.name: pack(getattr(value, f.name), arrays) for f in fields(value)},
        }
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {
            "of": type(value).__name__,
            "fields": {name: pack(one, arrays) for name, one in value._asdict().items()},
        }
    if isinstance(value, Mapping) and all(isinstance(name, str) for name in value):
        return {"mapping": [[name, pack(item, arrays)] for name, item in value.items()]}
    if isinstance(value, (list, tuple)):
        return {type(value).__name__: [pack(item, arrays) for item in value]}
    raise TypeError(f"keep: got a {type(value).__name__}, allowed numbers, text, arrays and dataclasses of them.")


def unpack(said: Any, arrays: list[NDArray[Any]], classes: Mapping[str, type]) -> Any:
    """What `pack` packed. Raises whatever a malformed one leads to."""
    if not isinstance(said, dict):
        return said
    if "array" in said:
        return arrays[said["array"]]
    if "bytes" in said:
        return arrays[said["bytes"]].tobytes()
    if "of" in said:
        return classes[said["of"]](**{name: unpack(item, arrays, classes) for name, item in said["fields"].items()})
    if "mapping" in said:
        return {name: unpack(item, arrays, classes) for name, item in said["mapping"]}
    ((kind, items),) = said.items()
    return {"list": list, "tuple": tuple}[kind](unpack(item, arrays, classes) for item in items)


def _file(key: str) -> Path:
    return cache_folder() / "kept" / f"{key}.npz"
