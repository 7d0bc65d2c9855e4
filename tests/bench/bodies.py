"""Random bodies within the survey's spreads: the worst error of each kind of measure, and seconds to build.

Run by hand: `python tests/bench/bodies.py --count 200`. Bodies, tolerances and measuring are those of
tests/published/test_figure_survey.py, so is the exact test of whether a mesh crosses itself; the table stands in
README.md here. What fails is named, body by body.
"""

from __future__ import annotations

import argparse
import importlib.util
import statistics
import time
from pathlib import Path

from drape.body.figure import build_figure
from drape.body.measure import volume
from drape.errors import FigureError

PUBLISHED = Path(__file__).resolve().parents[1] / "published" / "test_figure_survey.py"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    chosen = parser.parse_args()
    spec = importlib.util.spec_from_file_location("survey_test", PUBLISHED)
    survey = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(survey)
    worst: dict[str, tuple[float, int]] = {}
    seconds, litres, refused, failed = [], [], 0, 0
    for seed in range(chosen.first, chosen.first + chosen.count):
        tape, sex = survey.random_tape(seed)
        started = time.process_time()
        try:
            figure = build_figure(tape, sex=sex)
        except FigureError as error:
            refused += 1
            print(seed, error)
            continue
        seconds.append(time.process_time() - started)
        litres.append(1000.0 * volume(figure))
        got = survey.measured(figure)
        wrong = survey.faults(got, tape, survey.slope_of(tape), survey.RANDOM_GIVES_WAY) + survey.surface_faults(figure)
        failed += bool(wrong)
        if wrong:
            shown = ", ".join(f"{key} {tape[key]:.4f} {got[key]:.4f}" if key in tape else key for key in wrong)
            print(f"body {seed} ({sex}): {shown}", flush=True)
        for key, asked in tape.items():
            girth = key.endswith("_girth")
            off = 100.0 * (got[key] / asked - 1.0) if girth else 1000.0 * (got[key] - asked)
            name = f"{key} [{'%' if girth else 'mm'}]"
            worst[name] = max(worst.get(name, (0.0, seed)), (off, seed), key=lambda pair: abs(pair[0]))
        if len(seconds) % 20 == 0 or seed == chosen.first + chosen.count - 1:
            report(worst, seconds, litres, refused, failed)


def report(
    worst: dict[str, tuple[float, int]], seconds: list[float], litres: list[float], refused: int, failed: int
) -> None:
    """Print what was found so far."""
    for name, (off, seed) in worst.items():
        print(f"{name:<28}{off:8.2f}  body {seed}")
    print(
        f"{len(seconds)} built, {refused} refused, {failed} failed; median {statistics.median(seconds):.2f} s of one "
        f"processor; {min(litres):.1f} to {max(litres):.1f} l",
        flush=True,
    )


if __name__ == "__main__":
    main()
