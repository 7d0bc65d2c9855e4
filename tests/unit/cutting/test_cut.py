"""cutting, making, sheets, tiles, plot: one folder with all, the same bytes twice, words that match the numbers."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hostile import HOSTILE
from scipy.interpolate import CubicSpline
from shapely import LineString, Point, Polygon
from stand_in import standing_body

from drape.cutting.cut import Cut, OneCloth, cut_draft, cut_inner, cut_object, cut_text, index_page, write_cut
from drape.cutting.instructions import chalk_card, cutting_order, sewing_order
from drape.cutting.lay import Bolt, CuttingPlan, on_cloth
from drape.cutting.piece import Piece, cut_outline, marked_darts, net_outline
from drape.cutting.piecing import Allowances
from drape.cutting.plotter import CARD_DART, CARD_FOLD, write_lay_card
from drape.cutting.strokes import KINDS, draw_piece
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, Edge, length_of, run_of
from drape.draft.style import Dart, Style

DRAFT = draft_cloak(Style("tailored", 0.45, darts=(Dart(),), buttons=2), standing_body())
COLLAR = Piece(
    "collar",
    0,
    (
        Edge("foot", np.array([[0, 0], [0.42, 0]])),
        Edge("right", np.array([[0.42, 0], [0.42, 0.06]])),
        Edge("top", np.array([[0.42, 0.06], [0, 0.06]])),
        Edge("left", np.array([[0, 0.06], [0, 0]])),
    ),
    allowance=dict.fromkeys(("foot", "right", "top", "left"), 0.01),
    quantity=2,
)


@pytest.fixture(scope="module")
def cut() -> Cut:
    bolt = Bolt(0.7, shrinkage=0.05, price=20.0)
    return cut_draft(
        DRAFT, OneCloth(bolt, Allowances(), widths=(1.4,)), name="a", title="A lamp bearer's cloak", extra=(COLLAR,)
    )


@pytest.mark.long
def test_the_folder_holds_everything_and_its_bytes_repeat(cut: Cut, tmp_path: Path) -> None:
    folders = [tmp_path / "one", tmp_path / "two"]
    for folder in folders:
        folder.mkdir()
        names = write_cut(cut, folder)
    assert set(names) == {path.name for path in folders[0].iterdir()}
    for name in ("index.html", "cut.txt", "lay-card.svg"):
        assert "hem: length as given" in (folders[0] / name).read_text(encoding="utf-8").lower()
    assert [n for n in names if (folders[0] / n).read_bytes() != (folders[1] / n).read_bytes()] == []
    page = (folders[0] / "index.html").read_text(encoding="utf-8")
    assert {name for name in names if name != "index.html"} <= set(re.findall(r'href="([^"]+)"', page))
    for name in ("lay.svg", "lay-card.svg"):
        root = ElementTree.parse(folders[0] / name).getroot()
        assert root.get("width").endswith("mm")
    groups = {group.get("id") for group in ElementTree.parse(folders[0] / "lay.svg").iter() if group.tag.endswith("}g")}
    assert groups == {"cloth", *KINDS}


def test_numbers_words_and_lay_agree(cut: Cut) -> None:
    found = cut_object(cut)
    cloth = found["cloth"]
    assert cloth["to_buy_cm"] == pytest.approx(cloth["length_cm"] / 0.95, abs=0.01)
    assert cloth["cost"] == pytest.approx(0.2 * cloth["to_buy_cm"], abs=0.01)
    assert cloth["area_bound_cm"] <= cloth["length_cm"]
    assert [row["width_cm"] for row in found["widths"]] == [70.0, 140.0]
    assert [piece["name"] for piece in found["pieces"]].count("collar") == 1
    assert len(cut.lay.laid) == len(cut.pieces) + 1  # two collars
    text = cut_text(cut)
    assert f"Buy {math.ceil(cloth['to_buy_cm'])} cm of cloth 70 cm wide" in text
    assert "Set the collar" in text


# --- darts: marked, folded and sewn, not cut ---------------------------------------------------

BOWED = draft_cloak(
    Style("tailored", 0.8, closure_place="centre front", darts=(Dart(leg_bow=0.006),
     Dart(azimuth=math.pi, length=0.1, intake=0.02))),
    standing_body(),
)  # fmt: skip


@pytest.mark.parametrize("draft", [DRAFT, BOWED], ids=["straight", "bowed"])
def test_points_to_cut_lie_on_the_cut_line_and_those_of_a_dart_are_told_apart(draft: Draft) -> None:
    """Without allowances every point of the outline is on the cut line; a dart's point and legs are not."""
    plain = Allowances(0.0, 0.0, 0.0, 0.0)
    whole = cut_draft(draft, OneCloth(Bolt(2.0), plain, widths=()), name="a", title="a")
    laid = whole.lay.laid[0]
    points, lines = chalk_card(laid, draft)
    away = [laid.outline.exterior.distance(Point(p.along, p.across)) for p in points]
    assert max(far for far, p in zip(away, points, strict=True) if not p.inside) < draft.fastening.overlap / 2 + 1e-6
    assert min(far for far, p in zip(away, points, strict=True) if p.inside) > 0.01
    bowed = sum(len(run_of(draft, leg)) > 2 for dart in draft.darts for leg in dart.legs)
    assert sum(p.inside for p in points) == len(draft.darts) + bowed
    assert len({p.sign for p in points}) == len(points)
    told = [line for line in lines if line.startswith("Dart")]
    assert len(told) == len(draft.darts) and all("do not cut" in line for line in told)
    for line in told:  # each names its own points
        first, second, point = re.search(r"join (\w+) and (\w+) to its point (\w+)", line).groups()
        places = {p.sign: np.array([p.along, p.across]) for p in points}
        legs = [np.linalg.norm(places[point] - places[end]) for end in (first, second)]
        assert any(legs == pytest.approx([dart.length] * 2, abs=1e-6) for dart in draft.darts)


def test_a_dart_is_cut_nowhere_and_drawn_whole_on_sheet_and_card(tmp_path: Path) -> None:
    """Both legs, point and fold of each dart are on the full-size piece and the lay card,
    in ink that is not the cut line's.
    """
    plain = Allowances(0.0, 0.0, 0.0, 0.0)
    whole = cut_draft(BOWED, OneCloth(Bolt(2.0), plain, widths=()), name="a", title="a")
    piece = whole.pieces[0]
    cut = cut_outline(piece)
    found = marked_darts(piece)
    assert len(found) == 3
    strokes = draw_piece(piece).strokes
    for dart in found:
        assert cut.covers(Polygon(np.vstack([dart.legs[0], dart.legs[1][::-1]])).buffer(-1e-6))
        for leg in dart.legs:
            assert any(s.kind == "dart" and np.array_equal(s.points, leg) for s in strokes)
        folds = [s.points for s in strokes if s.kind == "fold"]
        assert any(np.allclose(dart.point, points[-1]) for points in folds)
        assert np.linalg.norm(dart.fold[0] - dart.fold[1]) == pytest.approx(
            math.sqrt(
                float(np.sum((dart.legs[0][0] - dart.point) ** 2))
                - float(np.sum((dart.legs[0][0] - dart.fold[1]) ** 2))
            )
        )
    assert not any(s.kind == "cut" and len(s.points) == len(found[0].legs[0]) for s in strokes)
    write_lay_card(whole.lay, tmp_path / "card.svg", title="a")
    card = (tmp_path / "card.svg").read_text(encoding="utf-8")
    assert (card.count(CARD_DART), card.count(CARD_FOLD), card.count("<circle")) == (6, 3, 3)
    assert "do not cut it" in card


def test_the_order_of_work_folds_darts_and_cuts_only_an_interlinings(cut: Cut) -> None:
    assert [line for line in cutting_order(cut.lay) if "dart" in line and "Do not cut it out" in line]
    lines = sewing_order(DRAFT, cut.pieces, interlined=True)
    assert [line for line in lines if line.startswith("Fold the dart at left shoulder")]
    assert [line for line in lines if "interlining" in line and "darts cut out" in line]
    bare = sewing_order(draft_cloak(Style("round", 0.8), standing_body()), cut.pieces, interlined=True)
    assert not [line for line in bare if "dart" in line]
    (under,) = cut_inner(DRAFT, CuttingPlan(Bolt(2.0), inner=(("interlining", Bolt(2.0)),)), title="a")
    assert "Cut it out along these lines" in chalk_card(under.lay.laid[0], DRAFT)[1][-1]


@pytest.mark.long
def test_lining_and_interlining_are_cut_from_their_own_cloths(tmp_path: Path) -> None:
    """The lining has seams of its own width and no hem turning, the interlining nothing but the lap;
    both are listed.
    """
    plan = CuttingPlan(Bolt(1.5), 0.015, inner=(("interlining", Bolt(1.5)), ("lining", Bolt(0.62, price=9.0))))
    inner = cut_inner(DRAFT, plan, title="A clerk's cloak")
    under, lining = inner
    net = net_outline(under.pieces[0])
    lap = DRAFT.fastening.overlap / 2  # half of the overlap stands beyond either closing line
    closing = sum(length_of(edge.points) for edge in DRAFT.edges if edge.name in (*DRAFT.closure, *DRAFT.opening))
    folded = sum(dart.intake * dart.length / 2 for dart in DRAFT.darts)  # a dart's wedge is not cut out
    assert under.lay.area == pytest.approx(net.area + lap * closing + folded, rel=1e-3)
    assert len(lining.pieces) > 1 and lining.lay.bolt.width == 0.62
    assert {piece.layer for piece in lining.pieces} == {"lining"}
    assert all(piece.allowance.get("hem") == 0.0 for piece in lining.pieces)
    assert max(piece.allowance["front closure"] for piece in lining.pieces) == pytest.approx(lap + 0.015)
    whole = cut_draft(
        DRAFT, OneCloth(plan.bolt, Allowances(), widths=()), name="a", title="A clerk's cloak", inner=inner
    )
    found, text = cut_object(whole), cut_text(whole)
    assert found["lining"]["cloth"]["cost"] == pytest.approx(0.09 * found["lining"]["cloth"]["to_buy_cm"], abs=0.01)
    assert f"Buy {math.ceil(found['lining']['cloth']['to_buy_cm'])} cm of lining 62 cm wide" in text
    assert f"Lining: {math.ceil(found['lining']['cloth']['to_buy_cm'])} cm, 62 cm wide." in text
    names = write_cut(whole, tmp_path)
    assert {"lining-pattern-a4.pdf", "lining-lay.dxf", "interlining-roll.pdf", "lining-lay-card.svg"} <= set(names)
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert 'src="lining-lay-card.svg"' in page


def test_chalk_lines_are_named_on_the_piece_and_buttons_as_large_as_the_draft_has_them(cut: Cut) -> None:
    """A name stands on the piece, beside its line and clear of the edges."""
    body_piece = cut.pieces[0]
    drawn = cut.drawn[body_piece.number]
    named = [words for words in drawn.words if words.text in {line.name for line in body_piece.lines}]
    assert len({words.text for words in named}) >= 2
    assert all(net_outline(body_piece).covers(Point(words.place)) for words in named)
    rings = [stroke for stroke in drawn.strokes if stroke.kind == "button" and len(stroke.points) > 2]
    assert rings and all(
        np.ptp(ring.points[:, 0]) == pytest.approx(DRAFT.fastening.diameter, rel=1e-6) for ring in rings
    )


def test_a_hem_bent_as_it_settled_is_chalked_through_points_near_each_other() -> None:
    """A trim of 3 cm in and out: a smooth curve through the card's points stays within 3 mm of the hem;
    no sign twice.
    """
    trim = 0.03 * np.sin(np.linspace(0, 4 * math.pi, 49))
    bent = draft_cloak(Style("tailored", 0.8, darts=(Dart(),)), standing_body(), trim=trim)
    one = cut_draft(bent, OneCloth(Bolt(1.4), Allowances(), widths=()), name="a", title="t").lay.laid[0]
    rows, _ = chalk_card(one, bent)
    hem = on_cloth(one, run_of(bent, "hem"))
    ends = [row for row in rows if "hem" in row.what]
    points = np.array([(row.along, row.across) for row in ends])
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    line = LineString(CubicSpline(steps, points)(np.linspace(0.0, steps[-1], 500)))
    assert max(line.distance(Point(place)) for place in hem) < 0.003
    assert len({row.sign for row in rows}) == len(rows) > 10


def test_a_hostile_title_is_a_title_on_the_page_and_on_the_sheets(cut: Cut, tmp_path: Path) -> None:
    def tags(words: str) -> list[str]:
        return re.findall(r"<[^>]*>", index_page(replace(cut, title=words, cautions=(words,)), [("lay.svg", words)]))

    plain = tags("ferry warden")
    for words in HOSTILE:
        page = index_page(replace(cut, title=words), [])
        assert tags(words) == plain and unescape(re.search(r"<h1>(.*?)</h1>", page)[1]) == words
    write_lay_card(cut.lay, tmp_path / "card.svg", title=" ".join(HOSTILE).replace("\u2028", " "))
    titles = [node.text for node in ElementTree.parse(tmp_path / "card.svg").iter("{http://www.w3.org/2000/svg}title")]
    assert titles == [" ".join(HOSTILE).replace("\u2028", " ")]
