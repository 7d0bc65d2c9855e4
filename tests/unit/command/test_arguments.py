"""The command line: values as typed, and wrong usage in one line that says what to type."""

from __future__ import annotations

import pytest

from drape.bench.trial_options import KINDS, options_of
from drape.command.arguments import build_parser
from drape.fitting.quality import QUALITY_EDGE_LENGTH_CM
from drape.picture.choices import HEIGHT_PX, MAKES, PAINT_NAMES, VIEW_NAMES

WRONG = [
    ("sit x --seed=-1", "argument --seed: got '-1', allowed a whole number from 0 to 999999999"),
    ("sit x --seed 1000000000", "got '1000000000', allowed a whole number from 0 to 999999999"),
    ("sit x --sure 21", "got '21', allowed a whole number from 2 to 20"),
    ("compare x y --starts 9", "got '9', allowed a whole number from 1 to 8"),
    ("sit x --starts 0", "got '0', allowed a whole number from 1 to 8"),
    ("sit x --starts 3 --sure 4", "argument --sure: not allowed with argument --starts"),
    ("mend x --tries 0", "got '0', allowed a whole number from 1 to 200"),
    ("mend x --tries ²", "got '²', allowed a whole number"),
    ("cut x --width-cm 70,5", "got '70,5', allowed a number. Write a point: 70.5"),
    ("show x --height-px tall", "got 'tall', allowed a whole number"),
    ("show x --paint colours", "got 'colours', allowed"),
    ("sit x --qual quick", "unrecognized arguments: --qual"),
    ("trial", "required: KIND"),
    ("trial ring", "required: --cloth"),
    ("sew", "got 'sew', allowed"),
]


@pytest.mark.parametrize(("typed", "says"), WRONG, ids=[typed for typed, _ in WRONG])
def test_wrong_usage_is_one_line_that_ends_with_where_to_look(
    typed: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stop:
        build_parser().parse_args(typed.split())
    shown = capsys.readouterr()
    assert stop.value.code == 2 and shown.out == ""
    (line,) = shown.err.splitlines()
    assert says in line and line.endswith("--help`.")


@pytest.mark.parametrize(("typed", "name", "value"), [
    ("sit x --seed 0", "seed", 0), ("sit x --seed 999999999", "seed", 999_999_999), ("sit x --sure "
    "2", "sure", 2), ("sit x --sure 20", "sure", 20), ("sit x --starts 1", "starts", 1), ("sit x", "starts", None),
    ("mend x", "tries", 24), ("mend x --tries 200", "tries", 200), ("show x", "height_px", HEIGHT_PX[1]), ("cut x "
    "--width-cm 70.5", "width_cm", 70.5), ("mend x --wet", "wet", True), ("study x --wet", "wet", True), ("trial ring "
    "--cloth calico --wet", "wet", True), ("cloths --wet", "wet", True),
])  # fmt: skip
def test_what_lies_on_the_limit_is_taken(typed: str, name: str, value: object) -> None:
    assert getattr(build_parser().parse_args(typed.split()), name) == value


def test_every_name_that_help_offers_may_be_typed() -> None:
    parser = build_parser()
    for flag, names in (("--make", MAKES), ("--view", VIEW_NAMES), ("--paint", PAINT_NAMES)):
        for name in names:
            found = getattr(parser.parse_args(["show", "x", flag, name]), flag.removeprefix("--"))
            assert found in ([name], name)
    for name in QUALITY_EDGE_LENGTH_CM:
        assert parser.parse_args(["sit", "x", "--quality", name]).quality == name


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_trial_takes_a_flag_for_every_option_under_its_key(kind: str) -> None:
    flags = [text for key in options_of(kind) for text in (f"--{key.replace('_', '-')}", "7")]
    chosen = build_parser().parse_args(["trial", kind, "--cloth", "calico", *flags, "--set", "a=1", "--set", "b=2"])
    assert {getattr(chosen, key) for key in options_of(kind)} == {7.0}
    assert chosen.overrides == ["a=1", "b=2"]
