"""A drawing file: its ending, its size, its scale bar."""

from __future__ import annotations

import pytest

from drape.errors import DraftError
from drape.tracing.drawing import load_drawing
from drape.tracing.lines import MOST_POINTS

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" {}>{}</svg>'


def write(folder, body, head="", name="x.svg"):
    path = folder / name
    path.write_text(SVG.format(head, body), encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["scale-20cm", "Scale bar, 0.2 m", "scale_200_mm"])
def test_a_scale_bar_sets_the_scale_and_is_taken_out(tmp_path, name):
    bar = f'<line id="{name}" x1="0" y1="5" x2="40" y2="5"/>'
    drawing = load_drawing(write(tmp_path, bar + '<path d="M0 0h7"/>', 'width="9mm"'))
    assert drawing.scale == pytest.approx(0.005) and len(drawing.lines) == 1 and name in drawing.scale_said


def test_a_word_with_scale_in_it_but_no_length_is_no_bar(tmp_path):
    assert load_drawing(write(tmp_path, '<path id="fish scale" d="M0 0h7"/>')).scale is None


@pytest.mark.parametrize(
    ("name", "body", "said"),
    [
        ("x.png", "", "allowed a drawing that ends in .svg or .dxf"),
        ("x.svg", "", "got no lines"),
        ("x.svg", '<path d="M0 0h0"/>', "got no lines"),
        ("x.svg", '<path d="M0 0h1e999"/>', "got 1e999 after h, allowed up to 1e"),
        ("x.svg", '<path d="M0 0A1 1 9e99 0 1 5 5"/>', "got 9e99 after A, allowed up to 1e"),
        ("x.svg", '<path transform="scale(1e9)" d="M0 0h7"/>', "got a place beyond 1e"),
        ("x.svg", '<path transform="scale(1e300)" d="M0 0C1 1 1e8 1e8 3 3"/>', "."),
        ("x.svg", f'<polyline points="{"0,1 1,0 " * (MOST_POINTS // 2 + 1)}"/>', f"allowed 4000 of {MOST_POINTS}"),
        ("x.dxf", "", "not DXF"),
        ("x.dxf", "  0\nEOF", "not DXF"),
    ],
)
def test_what_is_no_drawing_is_refused_in_a_line(tmp_path, name, body, said):
    with pytest.raises(DraftError, match=said) as caught:
        load_drawing(write(tmp_path, body, name=name))
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there_is_said(tmp_path):
    with pytest.raises(DraftError, match="No such file"):
        load_drawing(tmp_path / "none.svg")


def test_lines_of_one_name_are_told_apart(tmp_path):
    lines = load_drawing(write(tmp_path, '<path id="hem" d="M0 0h7M0 9h7"/>')).lines
    assert [line.name for line in lines] == ["hem", "hem-2"]


def test_what_a_line_is_called_is_one_line_that_can_be_read(tmp_path):
    path = tmp_path / "x.svg"
    odd = "hem&#10;[settle]&#x9b;31m&#x202e;" + "x" * 300
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100cm" viewBox="0 0 100 100"><g id="scale 50 cm&#10;a">'
        f'<path d="M0 0h50"/></g><g id="{odd}"><title>{odd}</title><path d="M0 9h50" id="{odd}"/></g></svg>',
        encoding="utf-8",
    )
    drawing = load_drawing(path)
    assert drawing.scale_said == "by the scale bar scale 50 cm\\u000aa"
    (line,) = drawing.lines
    for word in (line.name, *line.words):
        assert word.isprintable() and word.startswith("hem\\u000a[settle]\\u009b31m\\u202ex") and len(word) < 100
    path.write_text('<svg><path id="a&#10;b" d="M 0 0 L q"/></svg>', encoding="utf-8")
    with pytest.raises(DraftError) as caught:
        load_drawing(path)
    assert str(caught.value).isprintable()
