"""What goes between a process and the one that started it arrives whole, or is known not to."""

from __future__ import annotations

import io
from types import MappingProxyType

import pytest

from drape.errors import NotSettledError
from drape.fitting.scene import load_scene
from drape.fitting.settling_process import GONE, Job, receive, send


def test_a_scene_and_an_error_with_its_fitting_arrive_whole():
    stream = io.BytesIO()
    scene = load_scene("lamp-bearer-collar")
    send(stream, Job("collar", scene, 0.06, 3, False))
    send(stream, NotSettledError("clerk: not settled.", fitting=MappingProxyType({"residual": 0.1})))
    stream.seek(0)
    job, error = receive(stream), receive(stream)
    assert (job.words, job.scene, job.edge_length, job.seed, job.cached) == ("collar", scene, 0.06, 3, False)
    with pytest.raises(TypeError):
        job.scene.limits["gap_cm"] = 1.0
    assert isinstance(error, NotSettledError) and str(error) == "clerk: not settled."
    assert error.fitting == {"residual": 0.1}


@pytest.mark.parametrize("share", [0.0, 0.5, 0.99])
def test_a_word_broken_off_is_an_end(share):
    stream = io.BytesIO()
    send(stream, (1, Job("round", load_scene("ferry-warden-round"), 0.06)))
    whole = stream.getvalue()
    with pytest.raises(GONE):
        receive(io.BytesIO(whole[: int(share * len(whole))]))
