"""SVG files: shapes, groups, uses and units; and what is refused with nothing run and nothing fetched."""

from __future__ import annotations

import socket

import numpy as np
import pytest

from drape.errors import DraftError
from drape.tracing.svg_drawing import read_svg

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:l="urn:x" xmlns:xlink="http://www.w3.org/1999/xlink" {}>{}</svg>'
SHEET = 'width="200mm" height="100mm" viewBox="0 0 400 200"'


def read(body, sheet=SHEET):
    return read_svg(HEAD.format(sheet, body).encode(), "x.svg")


def test_shapes_stand_where_their_transforms_put_them_with_y_up():
    drawing = read(
        '<g l:label="Layer of edges" transform="translate(10,20) rotate(90)">'
        '<line id="a" x1="0" y1="0" x2="5" y2="0"/></g>'
        '<polygon points="0,0 4,0 4,3"/><rect x="1" y="1" width="2" height="3"/>'
        '<g id="g"><title>hem</title><circle cx="0" cy="0" r="10" transform="matrix(2 0 0 1 5 0)"/></g>'
        '<use xlink:href="#a" x="1" y="2"/>'
    )
    line, triangle, box, ellipse, used = drawing.lines
    np.testing.assert_allclose(line.points, [[10, -20], [10, -25]], atol=1e-12)
    assert line.name == "a" and line.words == ("a", "Layer of edges")
    np.testing.assert_allclose(triangle.points, [[0, 0], [4, 0], [4, -3], [0, 0]])
    assert len(box.points) == 5 and np.array_equal(box.points[0], box.points[-1])
    assert ellipse.words == ("hem", "g")
    assert np.ptp(ellipse.points, axis=0) == pytest.approx([40, 20], rel=0.02)
    np.testing.assert_allclose(used.points, [[1, -2], [6, -2]])
    assert drawing.scale == pytest.approx(0.0005) and "200 mm" in drawing.scale_said


@pytest.mark.parametrize(
    ("sheet", "scale"),
    [
        ('width="10in" height="5in"', 0.0254 / 96),
        ('width="72pt" viewBox="0 0 72 100"', 0.0254 / 72),
        ('width="2000" height="1000" viewBox="0 0 200 100"', None),
        ('width="100%" viewBox="0 0 200 100"', None),
        ("", None),
    ],
)
def test_the_sheet_says_how_large_a_unit_is_or_nothing_does(sheet, scale):
    got = read('<line x2="10" y2="5"/>', sheet).scale
    assert got == (None if scale is None else pytest.approx(scale))


def test_what_is_hidden_or_no_line_is_passed_by():
    body = (
        '<defs><path d="M0 0h1"/></defs><text>hem</text><line style="display: none" x2="3"/><path d="M0 0h7"/>'
        '<image xlink:href="http://127.0.0.1:9/x.png"/><a xlink:href="http://127.0.0.1:9/"><path d="M0 0h8"/></a>'
    )
    assert [np.ptp(line.points[:, 0]) for line in read(body).lines] == [7, 8]


def test_a_plain_document_type_is_read_and_nothing_is_fetched(monkeypatch):
    def refuse(*_):
        raise AssertionError("something was fetched")

    monkeypatch.setattr(socket, "socket", refuse)
    head = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://127.0.0.1:9/svg11.dtd">'
    assert len(read_svg((head + HEAD.format(SHEET, '<path d="M0 0h7"/>')).encode(), "x").lines) == 1


BOMB = '<!DOCTYPE svg [<!ENTITY a "x"><!ENTITY b "&a;&a;">]>' + HEAD.format(SHEET, "<text>&b;</text>")
OUTSIDE = '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]>' + HEAD.format(SHEET, "<text>&a;</text>")
BY_PARAMETER = '<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://127.0.0.1:9/x">%a;]>' + HEAD.format(SHEET, "")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BOMB, "an entity"),
        (OUTSIDE, "an entity"),
        (BY_PARAMETER, "an entity"),
        (HEAD.format(SHEET, "<script>alert(1)</script>"), "a script"),
        (HEAD.format(SHEET, '<path onload="x()" d="M0 0h1"/>'), "a script"),
        (HEAD.format(SHEET, "<g>"), "not SVG: mismatched tag"),
        (HEAD.format(SHEET, '<path id="q" d="M0 0 L"/>'), "q: got"),
        (HEAD.format(SHEET, '<path transform="spin(3)" d="M0 0h1"/>'), "transform 'spin"),
        ("<html/>", "<html>"),
        ("", "not SVG"),
        (f'<?xml version="1.0" encoding="UTF{"9" * 900}"?><svg/>', "not SVG: unknown encoding"),
        ("<svg " + "<g>" * 300, "deep"),
        ("<svg>" + "<g>" * 300, "deep"),
    ],
)
def test_what_is_broken_or_runs_is_refused_in_a_line(text, said):
    with pytest.raises(DraftError) as caught:
        read_svg(text.encode(), "x.svg")
    assert str(caught.value).startswith("x.svg") and "\n" not in str(caught.value) and len(str(caught.value)) < 300
    assert said in str(caught.value) or text.startswith("<svg ")


def test_uses_of_uses_come_to_an_end():
    many = "".join(f'<g id="u{k}">' + f'<use href="#u{k - 1}"/>' * 30 + "</g>" for k in range(1, 7))
    with pytest.raises(DraftError, match="10000 elements"):
        read('<path id="u0" d="M0 0h1"/>' + many)
    assert len(read('<g id="s"><use href="#s"/><path d="M0 0h1"/></g>').lines) < 12


def test_curves_are_flattened_to_a_fifth_of_a_millimetre():
    (line,) = read('<path d="M0 0A200 200 0 0 1 400 0"/>', 'width="2000mm" height="1000mm" viewBox="0 0 400 200"').lines
    middles = (line.points[1:] + line.points[:-1]) / 2 - np.array([200.0, 0.0])
    sag = (200 - np.linalg.norm(middles, axis=1)) * 0.005  # m: the sheet is 2 m wide
    assert 5e-5 < sag.max() < 2e-4
