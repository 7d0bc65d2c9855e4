"""The guide: how a page is set for a terminal, and that it says what the code knows, no less and no more."""

import argparse
import json
import re
from collections.abc import Iterator
from importlib import resources

import pytest

from drape.bench.table_top import MEASUREMENT_TABLES
from drape.bench.trial_options import KINDS, options_of
from drape.command.arguments import build_parser
from drape.command.main import main
from drape.command.topics import TOPICS, page, plain_text, topic_lines
from drape.errors import SceneError
from drape.fitting.quality import QUALITY_EDGE_LENGTH_CM
from drape.fitting.scene import FAIR_EDGE_LENGTH
from drape.fitting.scene_keys import BODY_TABLES, CLOTH_TABLES, OWN_CLOTH, SCENE_KEYS, SCENE_TABLES, TAPE_KEYS
from drape.fitting.starter_scene import STARTER_SCENE
from drape.picture.choices import MAKES, PAINT_NAMES, VIEW_NAMES
from drape.reading.table import GROUPS, KEY_ORDER, LEVEL_READINGS
from drape.reading.verdict import THRESHOLDS, WORN_THRESHOLDS
from drape.schema import Keys, _allowed
from drape.study.plan import PLAN_KEYS, PLAN_TABLES
from drape.units import from_si, unit_of


def sections(topic: str) -> dict[str, str]:
    """The text under each second heading of a page."""
    parts = re.split(r"^## (.*)$", page(topic), flags=re.MULTILINE)
    return {heading: text for heading, text in zip(parts[1::2], parts[2::2], strict=True)}


def entries(text: str) -> Iterator[tuple[str, str]]:
    """Each name that a list explains, and what follows the names of its line."""
    for line in text.splitlines():
        found = re.match(r"- ((?:`[^`]+`(?:, )?)+)(.*)", line)
        if found:
            yield from ((name, found[2]) for name in re.findall(r"`([^`]+)`", found[1]))


def names(text: str) -> list[str]:
    return [name for name, _ in entries(text)]


# --- files: every key with what it may be ------------------------------------------------------


def file_tables() -> dict[str, Keys]:
    """Every table of scene, body and cloth files by its heading: keys that stand in another table are left to it."""
    known: dict[str, Keys] = {"At the top": SCENE_KEYS}
    for tables in (SCENE_TABLES, BODY_TABLES, CLOTH_TABLES):
        for name, table in tables.items():
            heading = f"[[{name}]]" if table.many else f"[{name}]"
            elsewhere = {"figure": TAPE_KEYS, "lining": OWN_CLOTH, "interlining": OWN_CLOTH}.get(name, {})
            own = {key: rule for key, rule in table.keys.items() if key not in elsewhere}
            known[heading] = {**known.get(heading, {}), **own}
    known |= {f"The form: [{name}]": table.keys for name, table in MEASUREMENT_TABLES.items()}
    known |= {f"The plan: [{name}]": table.keys for name, table in PLAN_TABLES.items()}
    return known | {"The plan: at the top": PLAN_KEYS}


def told_tables() -> dict[str, dict[str, str]]:
    """The same tables as the guide tells them, from all its pages."""
    told: dict[str, dict[str, str]] = {}
    for topic in TOPICS:
        for heading, text in sections(topic).items():
            if heading.endswith("]") or heading.lower().endswith("at the top"):
                told.setdefault(heading, {}).update(entries(text))
    return told


def test_the_guide_tells_every_table_and_no_other():
    assert set(told_tables()) == set(file_tables())


@pytest.mark.parametrize("heading", sorted(file_tables()))
def test_the_guide_tells_every_key_with_what_it_may_be(heading):
    known, told = file_tables()[heading], told_tables()[heading]
    assert set(told) == set(known)
    wrong = [key for key, rule in known.items() if not told[key].startswith(f"{_allowed(rule, key)}: ")]
    assert wrong == []


def test_the_guide_gives_every_limit_with_its_reason():
    told = dict(entries(sections("verdicts")["[verdict]"]))
    for name, limit in {**THRESHOLDS, **WORN_THRESHOLDS}.items():
        usual = f"Usual: {limit.value:g} {unit_of(name).symbol}.".replace(" °", "°")
        assert usual in told[name] and told[name].endswith(f"{limit.reason[1:]}.")


# --- readings ------------------------------------------------------------------------------------


def test_the_guide_tells_every_reading_and_no_other():
    told = [name for text in sections("readings").values() for name in names(text)]
    shown = {row.key for group in GROUPS for row in group.rows if not re.match(r"dart\.[1-9]", row.key)}
    levels = {"crowding.at_cm", *(f"crowding.{key}" for _, key, _ in LEVEL_READINGS)}
    top = set(KEY_ORDER) - {key.partition(".")[0] for key in shown if "." in key}
    assert sorted(told) == sorted(shown | levels | top)


def test_the_guide_tells_readings_in_the_groups_of_the_table():
    told = sections("readings")
    for group in GROUPS:
        keys = [row.key for row in group.rows if not re.match(r"dart\.[1-9]", row.key)]
        assert set(keys) <= set(names(told[group.heading])), group.heading


# --- commands --------------------------------------------------------------------------------------


def parsers(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    (commands,) = (a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    return dict(commands.choices)


def own_flags(parser: argparse.ArgumentParser) -> set[str]:
    return {flag for action in parser._actions for flag in action.option_strings if flag.startswith("--")} - {"--help"}


def told_flags(text: str) -> list[str]:
    return sorted(name.split()[0] for name in names(text))


def headed(topic: str) -> dict[str, str]:
    """Sections on commands or kinds of trial, by the last word typed before what is put in."""
    return {
        m[1]: text
        for heading, text in sections(topic).items()
        if (m := re.match(r"drape (?:trial )?([a-z]+)", heading))
    }


def test_the_guide_tells_every_command_and_no_other():
    assert list(headed("commands")) == [name for name in headed("commands") if name in parsers(build_parser())]
    assert set(headed("commands")) == set(parsers(build_parser()))


@pytest.mark.parametrize("command", sorted(parsers(build_parser())))
def test_the_guide_tells_every_flag_and_no_other(command):
    assert told_flags(headed("commands")[command]) == sorted(own_flags(parsers(build_parser())[command]))


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_guide_tells_every_trial_with_its_flags_ranges_and_readings(kind):
    text, everyone = headed("trials")[kind], told_flags(sections("trials")["All kinds"])
    parser = parsers(parsers(build_parser())["trial"])[kind]
    own = [flag for flag in told_flags(text) if flag.startswith("--")]
    assert sorted(own + everyone) == sorted(own_flags(parser))
    assert {name for name in names(text) if not name.startswith("--")} == set(KINDS[kind].readings)
    told = {name.split()[0]: words for name, words in entries(text)}
    for key, rule in options_of(kind).items():
        flag = f"--{key.replace('_', '-')}"
        if flag in own and key != "max_steps":
            assert f"{rule.low:g} to {rule.high:g}" in told[flag]


def test_the_guide_tells_no_trial_that_is_not_there():
    assert set(headed("trials")) == set(KINDS)


def test_the_guide_tells_what_show_makes_and_no_more():
    told = sections("pictures")
    assert set(re.findall(r"^- `([a-z]+)`: ", told["What can be made"], re.MULTILINE)) == set(MAKES)
    assert set(names(told["Views"])) == set(VIEW_NAMES)
    assert set(names(told["What can be painted"])) == set(PAINT_NAMES)


def test_the_guide_gives_the_sizes_of_the_triangles():
    (line,) = [line for line in headed("commands")["sit"].splitlines() if line.startswith("- `--quality")]
    words = [f"{name} is {QUALITY_EDGE_LENGTH_CM[name]:g}" for name in ("quick",)]
    words += [f"{name} {QUALITY_EDGE_LENGTH_CM[name]:g}" for name in ("fair", "fine")]
    assert [said for said in words if said not in line] == []


def test_triangles_are_fair_ones_where_a_scene_names_none_and_the_guide_and_the_starter_say_so():
    fair = QUALITY_EDGE_LENGTH_CM["fair"]
    assert from_si("edge_length_cm", FAIR_EDGE_LENGTH) == pytest.approx(fair)
    assert f"\nedge_length_cm = {fair:g} " in STARTER_SCENE
    (line,) = [line for line in sections("scene")["[settle]"].splitlines() if line.startswith("- `edge_length_cm`")]
    assert f" {fair:g} if left out." in line


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_names_no_command_or_topic_that_is_not_there(topic):
    text = page(topic)
    commands = parsers(build_parser())
    assert set(re.findall(r"(?:`|^    )drape ([a-z]+)", text, re.MULTILINE)) <= set(commands)
    assert set(re.findall(r"`drape guide ([a-z]+)`", text)) <= set(TOPICS)


# --- pages -------------------------------------------------------------------------------------------


def test_the_installed_package_holds_every_page_and_no_other():
    found = {item.name for item in (resources.files("drape") / "guide").iterdir()}
    assert found == {f"{topic}.md" for topic in TOPICS}


def test_a_page_begins_with_its_topic_and_a_line_for_the_list():
    assert all(page(topic).startswith(f"# {topic}: ") for topic in TOPICS)
    assert all(0 < len(line) <= 70 for line in topic_lines().values())


@pytest.mark.parametrize("width", [40, 80])
@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_keeps_within_the_width_of_the_terminal(topic, width):
    lines = plain_text(page(topic), width).splitlines()
    words = [line for line in lines if not line.startswith("    ")]
    longest_word = max(len(word) for line in words for word in line.split())
    assert max(map(len, words)) <= max(width, longest_word + 2)
    assert max(map(len, lines)) <= 80
    assert not any("**" in line or line.startswith("#") for line in lines)


def test_a_page_is_set_in_plain_type():
    said = plain_text(
        "# a: b\n\nOne `two` **three** `drape four`.\n\n    as it is\n\n"
        "- `x`, 1 to 2 cm: long enough to turn over.\n- `--y Z`: as `--z` at a-b.\n",
        26,
    )
    assert said == (
        "a: b\n====\n\nOne two three `drape\nfour`.\n\n    as it is\n\n- x, 1 to 2 cm: long\n  enough to turn over.\n"
        "- --y Z: as --z at a-b.\n"
    )


def test_guide_alone_lists_the_pages(capsys):
    assert main(["guide"]) == 0
    out = capsys.readouterr().out
    assert [line.split()[0] for line in out.splitlines()[2:]] == list(TOPICS)
    assert main(["guide", "--json"]) == 0
    assert list(json.loads(capsys.readouterr().out)["topics"]) == list(TOPICS)


def test_guide_prints_a_page(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    assert main(["guide", "cautions"]) == 0
    out = capsys.readouterr().out
    assert "EN 14682" in out and max(map(len, out.splitlines())) <= 50
    assert main(["guide", "cautions", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"topic": "cautions", "text": page("cautions")}


@pytest.mark.parametrize(
    ("asked", "hint"),
    [
        ("scen", 'Did you mean "scene"?'),
        ("stoop_cm", "It stands in `drape guide body`."),
        ("gap_max_cm", "`drape guide readings`"),
    ],
)
def test_a_topic_that_is_not_there_is_refused_with_where_to_look(asked, hint, capsys):
    assert main(["guide", asked]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and hint in err
    with pytest.raises(SceneError, match="allowed start, scene"):
        page(asked)
