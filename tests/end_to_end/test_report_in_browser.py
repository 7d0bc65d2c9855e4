"""The report opens in a browser from a file: the cloak turns, nothing is asked of a network,
the console stays quiet.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import replace
from html import unescape
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pytest
from hostile import HOSTILE
from PIL import Image
from stand_in import standing_body
from studied import DIMENSIONS, found

from drape.command.main import main
from drape.cutting.cut import OneCloth, cut_draft, write_cut
from drape.cutting.lay import Bolt
from drape.cutting.piecing import Allowances
from drape.draft.cloak import draft_cloak
from drape.draft.style import Style
from drape.fitting.scene import load_scene, shipped_folder
from drape.picture.make import Job, make_report, make_wearing
from drape.reading.result import load_fitting, save_fitting
from drape.study.study_page import study_html

BROWSER = next((b for b in ("chromium", "chromium-browser", "google-chrome") if shutil.which(b)), None)
pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(BROWSER is None, reason="no Chromium here; on Debian: apt install chromium"),
]
WITHOUT_GL = ("--disable-3d-apis",)  # several seconds less where nothing that turns is looked at
SOFTWARE_GL = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")


def browse(path: Path, *flags: str) -> tuple[str, list[str]]:
    """The page's document after its scripts ran, and what it said on the console."""
    typed = [
        str(BROWSER), "--headless", "--no-sandbox", "--disable-background-networking", "--proxy-server=127.0.0.1:9",
        "--virtual-time-budget=4000", "--enable-logging=stderr", "--window-size=1100,2200", *flags, path.as_uri(),
    ]  # fmt: skip
    done = subprocess.run(typed, capture_output=True, text=True, errors="replace", timeout=240, check=False)
    return done.stdout, [line for line in done.stderr.splitlines() if "CONSOLE" in line]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a coarse fitting, not yet at rest: what it says is of no matter here, that it opens is."""
    from drape.errors import NotSettledError
    from drape.fitting.sit import sit

    folder = tmp_path_factory.mktemp("report")
    with pytest.raises(NotSettledError) as caught:
        sit(replace(load_scene("ferry-warden-tailored"), max_steps=400), edge_length=0.06)
    fitting = load_fitting(save_fitting(caught.value.fitting, folder))
    make_report(Job([fitting], folder, fitting.name))
    return folder / f"{fitting.name}.html"


def test_the_cloak_is_drawn_and_the_console_is_quiet(page: Path, tmp_path: Path) -> None:
    shown = tmp_path / "shown.png"
    document, console = browse(page, "--dump-dom", *SOFTWARE_GL)
    assert 'data-turn="drawn"' in document and "turns" in re.search(r"<html[^>]*>", document).group()
    assert console == []
    browse(page, f"--screenshot={shown}", *SOFTWARE_GL)
    with Image.open(shown) as screen:
        pixels = np.asarray(screen.convert("RGB"), int)
    blue = pixels[..., 2] > pixels[..., 0] + 25
    assert blue.mean() > 0.03


def test_without_webgl_the_picture_stands_in(page: Path) -> None:
    document, console = browse(page, "--dump-dom", *WITHOUT_GL)
    assert 'data-turn="picture"' in document and 'id="still"' in document
    assert console == []


def test_the_console_would_tell(page: Path) -> None:
    """A picture from elsewhere is refused by the page's own policy, and seen here."""
    asking = page.with_name("asking.html")
    text = page.read_text(encoding="utf-8")
    asking.write_text(text.replace("</body>", '<img src="https://example.org/a.png"></body>'), encoding="utf-8")
    assert any("example.org" in line for line in browse(asking, "--dump-dom", *WITHOUT_GL)[1])
    os.unlink(asking)


def test_it_prints_on_a4(page: Path, tmp_path: Path) -> None:
    printed = tmp_path / "printed.pdf"
    browse(page, f"--print-to-pdf={printed}", "--no-pdf-header-footer", *WITHOUT_GL)
    raw = printed.read_bytes()
    sizes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", raw))
    assert {(round(float(w)), round(float(h))) for w, h in sizes} == {(595, 842)}


def test_nothing_of_a_hostile_text_runs_on_any_page(page: Path, tmp_path: Path) -> None:
    """The title would become OWNED; and what a page's policy refuses, the console tells."""
    words = " ".join(one for one in HOSTILE if one.isprintable())  # a saved fitting with another is refused
    fitting = load_fitting(page.with_name("ferry-warden-tailored.npz"))
    about = {**fitting.about, "body": words, "layers": [words], "cloth": {"name": words, "source": words}}
    readings = {**fitting.readings, "verdicts": [{"where": words, "finding": words, "mend": words}]}
    hostile = replace(fitting, name="report", title=words, expect=words, about=about, readings=readings)
    make_report(Job([load_fitting(save_fitting(hostile, tmp_path))], tmp_path, "report"))
    cloth = OneCloth(Bolt(0.7), Allowances())
    cut = cut_draft(draft_cloak(Style("tailored", 0.45), standing_body()), cloth, name="a", title=words)
    write_cut(replace(cut, cautions=(words,)), tmp_path)
    for name in ("report.html", "index.html"):
        document, console = browse(tmp_path / name, "--dump-dom", *WITHOUT_GL)
        assert unescape(re.search(r"<title>(\S*)", document)[1]) == HOSTILE[0].split()[0]
        assert console == []
    shown = tmp_path / "shown.png"
    browse(tmp_path / "index.html", f"--screenshot={shown}", *WITHOUT_GL)
    with Image.open(shown) as screen:
        assert (np.asarray(screen.convert("L")) < 200).mean() > 0.02


def title_of(shown: Path) -> str:
    """The title of a page as a browser has it once it is open, whose console must have stayed quiet."""
    document, console = browse(shown, "--dump-dom", *WITHOUT_GL)
    assert console == [] and "OWNED" in document  # the text is there, and did not run
    return unescape(re.search(r"<title>([^<]*)", document)[1])


def test_nothing_of_a_hostile_text_runs_on_the_page_of_ways_worn_or_of_a_study(page: Path, tmp_path: Path) -> None:
    words = " ".join(one for one in HOSTILE if one.isprintable())
    fitting = load_fitting(page.with_name("ferry-warden-tailored.npz"))
    about = {**fitting.about, "body": words, "layers": [words], "cloth": {"name": words}, "worn": {"how": words}}
    worn = replace(fitting, name="worn", title=words, about=about)
    make_wearing(Job([load_fitting(save_fitting(worn, tmp_path))], tmp_path, "worn", cautions=(words,)))
    study = found(tmp_path, DIMENSIONS, lambda s: None if s["dart.intake_cm"] == 6 else 0.4, why=words)
    study = replace(study, plan=replace(study.plan, title=words))
    (tmp_path / "study.html").write_text(study_html(study), encoding="utf-8")
    for name in ("worn.html", "study.html"):
        assert words in title_of(tmp_path / name)


def hostile_drawing(drawing: str) -> str:
    """A shipped drawing whose title, layers, ids and classes are hostile, with letters that XML has but none types."""
    odd = [one.replace("document.title", "document['ti'+'tle']") for one in HOSTILE if one.isprintable()]
    words = " ".join(one for one in odd if not re.search("title|text", one))  # which would name a line that is no edge
    text = (shipped_folder("scene") / "drawings" / drawing).read_text(encoding="utf-8")
    if drawing.endswith(".dxf"):
        return re.sub(r"(?m)^hals$", lambda _: f"neck {words}\x1b[31m\u202e", text)
    said = escape(words, {'"': "&quot;"}) + "&#x9b;31m&#x202e;&#13;&#10;&#x2028;"
    text = text.replace('id="saum"', f'id="hem {said}" class="{said}"').replace('"mantel neu"', f'"{said}"')
    return re.sub("<title>.*?</title>", lambda _: f"<title>{said}</title>", text)


@pytest.mark.parametrize(("drawing", "flags"), [
    ("lamp-bearer-mantle.svg", []), ("river-child.dxf", ["--known-cm", "80", "--between", "hem", "neck"]),
])  # fmt: skip
def test_nothing_of_a_hostile_drawing_runs_or_steers(
    drawing: str, flags: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nor does the file's own name: on the sheet, in the scene, on the terminal."""
    path = tmp_path / f"a<img src=x onerror='document.title=`OWNED`'>\n\x1b[31m{Path(drawing).suffix}"
    path.write_text(hostile_drawing(drawing), encoding="utf-8")
    assert main(["trace", str(path), *flags, "--out", str(tmp_path / "out")]) == 0
    shown = capsys.readouterr()
    assert "</script>" in shown.out and {one for one in shown.out + shown.err if not one.isprintable()} == {"\n"}
    (scene,) = (tmp_path / "out").glob("*.toml")
    assert load_scene(scene).title.startswith("Traced from a<img")
    (sheet,) = (tmp_path / "out").glob("*.svg")
    assert title_of(sheet).startswith("a<img src=x")
