"""Results: the outcomes of a study's settlings → what became of each member.

In: members, and each settling's outcome by its key. Out: a `Result` for each member: the readings of all its starts as
one, whether it sits, what is wrong; or why there are none. What is made of all of them is left to `rows`, `effects` and
`fits`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from drape.body.tape import fill_tape
from drape.errors import FigureError
from drape.reading.conclusion import doubts, faults, how_it_sits, praise
from drape.reading.starts import gathered
from drape.study.members import Member, key_of
from drape.study.task import FAILED, NOT_SETTLED, SETTLED
from drape.units import from_si, rounded

UNREAD: Final = "none"  # how a member sits that has no readings


@dataclass(frozen=True, eq=False)
class Result:
    """What became of a member.

    state: settled, not settled or failed. why: in words, of the last two. readings: as of `drape sit --json`, of
    several starts their means with ±; None of what did not settle. sits: yes, no, undecided; none without readings.
    """

    member: Member
    state: str
    why: str
    readings: Mapping[str, Any] | None
    dimensions: Mapping[str, Any]
    seconds: float
    versions: Mapping[str, str]

    @cached_property
    def sits(self) -> str:
        return UNREAD if self.readings is None else how_it_sits(self.readings, self.member.scene.limits)

    @cached_property
    def measures(self) -> Mapping[str, float]:
        """The wearer's measures, those that were left out filled in, as `tape.stature_cm`."""
        scene = self.member.scene
        try:
            full, _ = fill_tape(scene.tape, sex=scene.sex)
        except FigureError:
            full = dict(scene.tape)
        named = {f"tape.{key}_{'deg' if 'slope' in key else 'cm'}": value for key, value in full.items()}
        return {name: round(from_si(name, value), 2) for name, value in named.items()}

    @property
    def verdict(self) -> str:
        """The gravest of what is wrong, or may be; else how neck and shoulders lie; without readings, why."""
        limits = self.member.scene.limits
        if self.readings is None:
            return self.why
        said = {"no": faults, "undecided": doubts}.get(self.sits)
        return praise(self.readings) if said is None else said(self.readings, limits)


def result_of(member: Member, outcomes: Mapping[str, Mapping[str, Any]]) -> Result:
    """The outcomes of a member's starts as one. It has settled when one of them has."""
    each = [(job.seed, outcomes[key_of(job)]) for job in member.jobs]
    settled = [(seed, one) for seed, one in each if one["state"] == SETTLED]
    seconds = round(sum(one["seconds"] for _, one in each), 3)
    if not settled:
        worst = next((one for _, one in each if one["state"] == NOT_SETTLED), each[0][1])
        state = NOT_SETTLED if worst["state"] == NOT_SETTLED else FAILED
        return Result(member, state, worst["why"], None, {}, seconds, worst["versions"])
    gathering, place = gathered(
        [one["readings"] for _, one in settled], [seed for seed, _ in settled],
        own_limits=member.scene.limits, unsettled=len(each) - len(settled),
    )  # fmt: skip
    shown = settled[place][1]
    return Result(member, SETTLED, "", rounded(gathering), shown["dimensions"], seconds, shown["versions"])


def results_of(members: Sequence[Member], outcomes: Mapping[str, Mapping[str, Any]]) -> tuple[Result, ...]:
    """What became of each member, in their order."""
    return tuple(result_of(member, outcomes) for member in members)
