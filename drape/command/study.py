"""`drape study`: many drafts settled, on this machine or on a cluster, and set out as one table.

Comes in: parsed arguments. Goes out: the study's folder, its summary on stdout. The study itself is done by the rooms
below.
"""

from __future__ import annotations

import contextlib
import functools
import json
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drape.command.kernel_cache import watch_compiling
from drape.command.output import folder
from drape.errors import SceneError
from drape.progress import Progress, answer, say, say_saved, tell

if TYPE_CHECKING:
    import argparse

    from drape.fitting.side_by_side import Door
    from drape.study.plan import Plan

DONE, NOT_SETTLED = 0, 3


def run_study(chosen: argparse.Namespace) -> int:
    """`drape study`: settle every member of a plan; rows, page and summary."""
    from drape.study.conduct import conduct
    from drape.study.engine import check_installed
    from drape.study.files import write_study
    from drape.study.members import check_members
    from drape.study.plan import load_plan
    from drape.study.summary import summary_object, summary_text
    from drape.study.told import findings_of

    check_flags(chosen)
    check_installed()
    watch_compiling()
    plan = _sized(load_plan(chosen.plan, wet=chosen.wet), chosen)
    tell(Progress("plan", 0.0, "checking the members", has_share=False))
    members = check_members(plan)
    with folder(chosen.out or Path(f"{plan.name}-study")) as out:
        say(f"{plan.name}: {len(members)} members, {plan.starts} settling{'s'[: plan.starts > 1]} each.")
        results = conduct(members, out, functools.partial(_cluster, chosen), tell, say)
        tell(Progress("page", 0.0, "writing what was found", has_share=False))
        findings = findings_of(plan, results)
        summed = summary_object(results, write_study(findings, out))
        answer(f"{json.dumps(summed, indent=2)}\n" if chosen.json else summary_text(findings))
        say_saved(out)
    return DONE if summed["settled"] else NOT_SETTLED


def _sized(plan: Plan, chosen: argparse.Namespace) -> Plan:
    """The plan with the size of triangles that the flags ask for."""
    from drape.fitting.front_door import edge_length_of

    if chosen.quality is None and chosen.edge_length_cm is None:
        return plan
    return replace(plan, edge_length=edge_length_of(plan.scene, chosen.quality, chosen.edge_length_cm))


def _cluster(chosen: argparse.Namespace) -> AbstractContextManager[Any]:
    """The workers to settle with: of a scheduler, or this machine's own."""
    from drape.cloth.rehearsal import compile_kernels
    from drape.fitting.side_by_side import cores
    from drape.study.engine import Address, cluster_at, own_cluster

    if chosen.cluster is None:
        compile_kernels()
        return own_cluster(chosen.jobs or cores())
    return cluster_at(Address(chosen.cluster, chosen.tls_ca_file, chosen.tls_cert, chosen.tls_key))


@contextlib.contextmanager
def door_of(chosen: argparse.Namespace) -> Iterator[Door]:
    """Where a command settles its drafts: on the workers of --cluster, or in so many processes of this machine."""
    from drape.fitting.side_by_side import Door, cores
    from drape.study.engine import FarHand, at_a_time, check_installed

    check_flags(chosen)
    if chosen.cluster is None:
        yield Door(chosen.jobs or cores())
        return
    check_installed()
    with _cluster(chosen) as client:
        yield Door(max(at_a_time(client), 1), functools.partial(FarHand, client))


def check_flags(chosen: argparse.Namespace) -> None:
    """Refuses flags that do not go together. Raises SceneError."""
    if chosen.cluster is None:
        for flag in ("tls_ca_file", "tls_cert", "tls_key"):
            if getattr(chosen, flag) is not None:
                raise SceneError(f"--{flag.replace('_', '-')}: got it without --cluster. Name the scheduler: tls://...")
    elif chosen.jobs is not None:
        raise SceneError("--jobs: got it with --cluster, where the workers say how many. Leave it out.")
