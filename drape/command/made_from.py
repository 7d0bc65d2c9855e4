"""What the results in a folder were made from, so that those of one folder always belong together.

In: a folder, and a `Run` that writes into it. Out: a small file there that names, for every run, what each scene in it
was and which files it wrote; and the removal of files that a later run makes untrue. Only files named there are ever
removed. A folder without that file, or with one that cannot be read, is taken for one that holds nothing of ours.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from glob import escape
from pathlib import Path
from typing import Any, Final

from drape.cache import digest_of
from drape.errors import DrapeError, SceneError
from drape.files import write_text
from drape.fitting.hem_to_cut import hem_of
from drape.fitting.scene import Scene, load_scene
from drape.fitting.settled_hem import Hem, content_of
from drape.plain import typed
from drape.progress import say, say_saved
from drape.reading.result import Fitting
from drape.units import from_si

RECORD: Final = "made-from.json"
SETTLING: Final = ("sit", "compare", "mend")  # commands whose results take settling to make

# What earlier results were made from, where it is not what the new ones are; the first that differs is told.
REASONS: Final = {
    "content": "another draft, cloth or body",
    "settled": "a cloak that came to rest otherwise",
    "hem": "a hem that was an estimate",
    "hem_edge_length_cm": "a hem settled on other triangles",
    "width_cm": "cloth of another width",
    "edge_length_cm": "other triangles",
}


@dataclass(frozen=True)
class Run:
    """One command's results in a folder. of: by scene, what they were made from; files: their names there."""

    command: str
    of: Mapping[str, Mapping[str, Any]]
    files: tuple[str, ...] = ()


def made_of(scene: Scene, hem: Hem, more: Mapping[str, Any]) -> dict[str, Any]:
    """What results of a scene were made from: its content, its hem, and what else makes them differ."""
    length = None if hem.edge_length is None else round(from_si("edge_length_cm", hem.edge_length), 4)
    return {
        "content": digest_of(content_of(scene)), "hem": hem.word, "hem_edge_length_cm": length, "hem_seed": hem.seed,
        **more,
    }  # fmt: skip


def runs_in(folder: Path) -> list[Run]:
    """The runs recorded in a folder, in the order in which they were made."""
    try:
        said = json.loads((folder / RECORD).read_text(encoding="utf-8"))["runs"]
        runs = [Run(str(one["command"]), dict(one["of"]), tuple(map(str, one["files"]))) for one in said]
        plain = all(isinstance(of, dict) for run in runs for of in run.of.values())
        inside = all(Path(name).name == name for run in runs for name in run.files)
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return []
    return runs if plain and inside else []


def difference(old: Run, new: Run) -> str:
    """What an earlier run was made from, where its files do not belong beside a new run's; nothing where they do."""
    for name in [name for name in old.of if name in new.of]:
        keys = [key for key in old.of[name] if key in new.of[name] and old.of[name][key] != new.of[name][key]]
        if keys:
            return next((words for key, words in REASONS.items() if key in keys), "other settings")
    if old.of.keys() != new.of.keys() and set(old.files) & set(new.files):
        return " and ".join(old.of)
    return ""


def check_not_lesser(folder: Path, new: Run) -> None:
    """Refuse to put a lesser result in the place of a better one of the same draft, cloth and body.
    Raises SceneError.
    """
    for old in runs_in(folder):
        for name in [name for name in old.of if name in new.of]:
            before, after = old.of[name], new.of[name]
            if before.get("content") != after["content"]:
                continue
            if (before.get("hem"), after["hem"]) == ("settled", "estimate"):
                raise SceneError(
                    f"--out: {folder} holds {name} with its settled hem, and an estimate does not go in its place. "
                    "Give another folder, or leave out --estimate."
                )
            if old.command in SETTLING and new.command not in SETTLING and difference(old, new):
                raise SceneError(
                    f"--out: {folder} holds {name} as it settled on triangles of {before.get('edge_length_cm')} cm; "
                    f"this hem comes from triangles of {after['hem_edge_length_cm']} cm. Give another folder."
                )


def aside(folder: Path, new: Run) -> Path:
    """The folder, or one beside it for a run that did not settle, where the folder holds the same draft settled."""
    for old in runs_in(folder):
        for name in [name for name in old.of if name in new.of]:
            is_same = old.of[name].get("content") == new.of[name]["content"]
            if is_same and old.of[name].get("settled") and not new.of[name]["settled"]:
                return folder.with_name(f"{folder.name}-not-settled")
    return folder


def book(folder: Path, new: Run) -> list[str]:
    """Record a run whose files are written; remove earlier ones that do not belong beside them. Returns what to say."""
    kept: list[Run] = []
    gone: list[str] = []
    reasons: list[str] = []
    for old in runs_in(folder):
        why = difference(old, new)
        if why:
            gone += old.files
            reasons.append(why)
        elif (old.command, old.of) == (new.command, new.of):
            new = replace(new, files=tuple(dict.fromkeys((*new.files, *old.files))))
        else:
            kept.append(old)
    stay = {name for run in (*kept, new) for name in run.files}
    stale = sorted({name for name in gone if name not in stay and (folder / name).is_file()})
    for name in stale:
        (folder / name).unlink()
    record(folder, [*kept, new])
    if not reasons:
        return []
    removed = f" Removed, since they do not belong to the new ones: {', '.join(stale)}." if stale else ""
    return [f"{folder}: earlier results, made from {reasons[0]}, are replaced.{removed}"]


def add_files(folder: Path, beside: str, names: Sequence[str]) -> None:
    """Record files drawn later from a result, with the run that wrote that result; nothing where none is recorded."""
    runs = runs_in(folder)
    added = [
        replace(run, files=tuple(dict.fromkeys((*run.files, *names)))) if beside in run.files else run for run in runs
    ]
    if added != runs:
        record(folder, added)


def record(folder: Path, runs: Sequence[Run]) -> None:
    """Write the record; files that are gone are left out."""
    said = []
    for run in runs:
        files = sorted(name for name in run.files if (folder / name).is_file())
        said.append({"command": run.command, "of": run.of, "files": files})
    write_text(folder / RECORD, f"{json.dumps({'runs': said}, indent=2, sort_keys=True)}\n")


def out_of_date(folder: Path, new: Run) -> list[str]:
    """The folders beside one that were made from another state of the same scenes,
    or from an estimate since settled.
    """
    found: dict[str, None] = {}
    for name, now in new.of.items():
        for beside in sorted(folder.resolve().parent.glob(f"{escape(name)}-*")):
            for run in runs_in(beside) if beside != folder.resolve() else []:
                then = run.of.get(name, now)
                if then.get("content") != now["content"] or (then.get("hem"), now["hem"]) == ("estimate", "settled"):
                    found[beside.name] = None
    return list(found)


def changed_since(saved: Path) -> str:
    """What to say where a scene beside a saved fitting is no longer the one it was made from; nothing where it is, or
    where that cannot be known: no record, or no scene of its name beside the folder or in the one we are in.
    """
    name = saved.stem
    then = [run.of[name].get("content") for run in runs_in(saved.parent) if name in run.of and saved.name in run.files]
    places = (saved.resolve().parent.parent / f"{name}.toml", Path(f"{name}.toml"))
    file = next((place for place in places if place.is_file()), None)
    if file is None or not then:
        return ""
    try:
        now = digest_of(content_of(load_scene(file)))
    except DrapeError:
        return ""
    if now in then:
        return ""
    changed = f"{file.name} has changed since {saved} was settled, which shows it as it was."
    return f"{changed} For the new one: drape sit {typed(file)}"


def sitting(scene: Scene, fitting: Fitting, edge_length: float, seed: int, made: dict[str, Any]) -> Run:
    """What a scene's fitting was made from; made: what, beside mesh and scene, makes its files differ."""
    own = {
        "settled": fitting.readings["settled"], "edge_length_cm": round(from_si("edge_length_cm", edge_length), 4),
        "seed": seed, "said": digest_of(scene),
    }  # fmt: skip
    shown = fitting.readings.get("starts", {}).get("shown_seed", seed)
    hem = hem_of(scene, fitting, edge_length=edge_length, seed=shown)
    return Run("sit", {scene.name: made_of(scene, hem, own | made)})


def together(command: str, runs: Sequence[Run]) -> Run:
    """What the files of several fittings together were made from."""
    of = {name: made for run in runs for name, made in run.of.items()}
    return Run(command, of, tuple(f"{command}.{ending}" for ending in ("json", "txt", "png")))


def book_and_say(out: Path, runs: Sequence[Run]) -> None:
    """Record runs in their folder; say what they replaced, what beside them is out of date,
    and where they are saved.
    """
    for words in dict.fromkeys(words for run in runs for words in book(out, run)):
        say(words)
    stale = dict.fromkeys(name for run in runs for name in out_of_date(out, run))
    if stale:
        say(f"Out of date: {', '.join(stale)}. Make again what is still wanted.")
    say_saved(out)
