"""The keeper: every change is written before it is answered, and what settles is an entry. Nothing settles here."""

from __future__ import annotations

import asyncio
import json
import re

import pytest
from hostile import HOSTILE

from drape.book import keeper as keeping
from drape.book.entries import Folder
from drape.book.keeper import Keeper
from drape.book.task import DONE, FAILED, FRAME, PICTURED, Came
from drape.book.told import parts_of
from drape.errors import SceneError

SETTLED = {
    "settled": True,
    "scene": "entry-1",
    "edge_length_cm": 3.0,
    "verdicts": [],
    "conclusion": {"text": "It sits."},
}


class Bench:
    """Takes in tasks, and does none."""

    def __init__(self, heard):
        self.heard, self.tasks, self.is_busy = heard, [], False

    def want(self, task):
        self.tasks.append(task)

    also = want

    def leave(self):
        self.is_busy = False

    def end(self):
        self.ended = True


@pytest.fixture
def open_book(tmp_path, monkeypatch):
    monkeypatch.setattr(keeping, "Bench", Bench)

    def opened():
        keeper = Keeper(Folder(tmp_path), lambda parts: None, lambda picture: None)
        asyncio.run(keeper.begin())
        return keeper

    return opened


def do(keeper, command, **said):
    asyncio.run(keeper.do({"do": command, **said}))


def settled(keeper, **readings):
    name = keeper.bench.tasks[-1].scene.name
    asyncio.run(keeper.came(Came(name, {**SETTLED, **readings, "scene": name})))


def test_what_has_settled_is_written_in_and_a_change_makes_the_next(open_book, tmp_path):
    keeper = open_book()
    assert keeper.state_word() == "settling" and keeper.bench.tasks[-1].scene.name == "entry-1"
    settled(keeper)
    assert (tmp_path / "entry-1.toml").is_file() and keeper.state_word() == "rest"
    do(keeper, "type", name="draft.length_cm", text="100")
    assert keeper.state_word() == "settling" and "length_cm = 100.0" in (tmp_path / "pencil.toml").read_text()
    assert "settling" in parts_of(keeper, ["answer"])["answer"]
    settled(keeper)
    assert keeper.entries[1].told == "From entry 1: length: 112 cm, now 100 cm."
    assert "length_cm = 112.0" in (tmp_path / "entry-1.toml").read_text()


def test_many_changes_leave_one_task_wanted_and_each_a_line_in_the_day_book(open_book, tmp_path):
    keeper = open_book()
    for k in range(20):
        do(keeper, "type", name="draft.length_cm", text=f"{100 + k}")
    assert keeper.bench.tasks[-1].scene.style.length == pytest.approx(1.19)
    assert (tmp_path / "day-book.txt").read_text().count("draft.length_cm =") == 20
    assert keeper.entries == []


def test_what_cannot_be_is_kept_beside_its_field_also_when_the_book_is_opened_again(open_book, tmp_path):
    keeper = open_book()
    do(keeper, "type", name="draft.length_cm", text="1120")
    again = open_book()
    for one in (keeper, again):
        order = parts_of(one, ["order"])["order"]
        assert "Got 1120, allowed 15 to 200 cm. If this is in millimetres, write 112.0." in order
        assert 'aria-invalid="true"' in order and 'value="1120"' in order
    assert "1120" not in (tmp_path / "pencil.toml").read_text()
    do(again, "type", name="draft.length_cm", text="110")
    assert again.typed == {} and "length_cm = 110.0" in (tmp_path / "pencil.toml").read_text()


def test_words_alone_settle_nothing(open_book, tmp_path):
    keeper = open_book()
    settled(keeper)
    before = len(keeper.bench.tasks)
    do(keeper, "type", name="title", text="<b>Toll & ferry</b>")
    assert len(keeper.bench.tasks) == before and "<b>Toll & ferry</b>" in (tmp_path / "pencil.toml").read_text()
    assert "<b>Toll" not in parts_of(keeper, ["order"])["order"]


def test_a_point_held_is_written_in_when_it_is_let_go(open_book):
    keeper = open_book()
    settled(keeper)
    do(keeper, "drag", name="dart.0.length_cm", x=0.0, y=-31.0)
    settled(keeper)
    assert len(keeper.entries) == 1
    do(keeper, "release")
    assert len(keeper.entries) == 2 and keeper.scene.style.darts[0].length == pytest.approx(0.164, abs=0.003)


def test_any_entry_can_be_gone_back_to_and_none_is_lost(open_book, tmp_path):
    keeper = open_book()
    settled(keeper)
    do(keeper, "type", name="draft.length_cm", text="100")
    settled(keeper)
    do(keeper, "open", of=1)
    assert keeper.open == 1 and keeper.scene.style.length == pytest.approx(1.12)
    do(keeper, "type", name="draft.length_cm", text="105")
    settled(keeper)
    assert [(entry.number, entry.before) for entry in keeper.entries] == [(1, None), (2, 1), (3, 1)]
    assert json.loads((tmp_path / "book.json").read_text())["open"] == 3


def open_closure(*, undecided):
    """The fault of a closure that stands open, with the overlap that it asks for."""
    change = {"table": "closure", "place": None, "key": "overlap_cm", "write": 3.0, "was": 0.0}
    return {
        "where": "closure", "finding": "stands open.", "mend": "", "changes": [change], "undecided": undecided,
        "reading": "closure.gape_cm", "harm": "finish",
    }  # fmt: skip


def test_what_a_fault_asks_for_is_written(open_book):
    keeper = open_book()
    fault = open_closure(undecided=False)
    settled(keeper, verdicts=[fault])
    do(keeper, "try", of=1)
    assert keeper.scene.style.overlap == pytest.approx(0.03)
    with pytest.raises(SceneError, match="fault 2"):
        do(keeper, "try", of=2)


def test_an_unsettled_cloak_is_never_shown_as_settled(open_book):
    keeper = open_book()
    settled(keeper, settled=False, conclusion={"text": "NOT SETTLED: entry-1."})
    told = parts_of(keeper)
    assert keeper.state_word() == "unsettled"
    assert all("NOT SETTLED" in told[name] for name in ("status", "answer", "entries", "sheet"))


def test_a_task_that_fails_is_told_and_the_book_goes_on(open_book):
    keeper = open_book()

    async def failing():
        keeper.heard(FAILED, "mesh: no such thing.")

    asyncio.run(failing())
    assert "mesh: no such thing." in parts_of(keeper, ["status"])["status"]
    do(keeper, "type", name="draft.length_cm", text="100")
    assert keeper.complaint == "" and keeper.state_word() == "settling"


def test_files_dropped_are_taken_by_what_they_are(open_book, tmp_path):
    keeper = open_book()
    body = (
        '[figure]\nsex = "man"\n[tape]\nstature_cm = 178\nchest_girth_cm = 100\nwaist_girth_cm = 84\nhip_girth_cm = 99'
    )
    do(keeper, "take", file="../../ada.toml", text=body)
    assert [path.name for path in tmp_path.glob("*ada*")] == ["ada.toml"] and keeper.scene.body == "ada"
    do(keeper, "take", file="odd.toml", text="[what]\nx = 1\n")
    assert "no file that drape knows" in keeper.complaint
    with pytest.raises(SceneError, match="allowed a scene file of the folder"):
        do(keeper, "take", file="../secret.toml")


def test_a_cloth_of_tests_typed_on_the_page_is_worked_out(open_book, tmp_path, monkeypatch):
    keeper, asked = open_book(), []
    monkeypatch.setattr(keeper.errands, "work_out_cloth", asked.append)
    do(keeper, "tests", name="../grey", readings={"square.side_cm": "20", "square.mass_g": "22"})
    assert [path.parent for path in asked] == [tmp_path] and "side_cm = 20" in asked[0].read_text()
    with pytest.raises(SceneError, match="got no readings"):
        do(keeper, "tests", name="x", readings=3)


def test_a_page_that_comes_late_is_shown_figure_and_cloth(open_book):
    keeper = open_book()
    moving, rest, figure = (bytes([kind, *bytes(11), 1, *bytes(7)]) for kind in (1, 2, 3))
    for picture in (figure, moving, rest):
        keeper.heard(FRAME, picture)
    assert list(keeper.last.values()) == [figure, rest]
    assert DONE != FRAME


@pytest.mark.parametrize("said", [{"do": "nothing"}, {}, {"do": "open", "of": 99}, {"do": "open", "of": "1"}])
def test_what_is_no_command_is_refused(open_book, said):
    with pytest.raises(SceneError, match="^book: got"):
        asyncio.run(open_book().do(said))


OPEN = {"text": "Undecided.", "sits": {"entry-1": "undecided"}}


def test_what_settled_once_is_made_sure_of_without_being_asked(open_book, tmp_path):
    keeper = open_book()
    settled(keeper, conclusion=OPEN)
    keeper.heard(PICTURED, "entry-1")
    assert keeper.bench.tasks[-1].kind == "sure" and keeper.state_word() == "rest"
    told = parts_of(keeper)
    assert "settled again, several times" in told["status"] and "Settled once so far" in told["answer"]
    settled(keeper, conclusion={"text": "Cut entry-1: it sits.", "sits": {"entry-1": "yes"}}, starts={"count": 3})
    told = parts_of(keeper)
    assert len(keeper.entries) == 1 and "it sits" in told["answer"] and "Settled 3 times" in told["answer"]
    keeper.entries[0].readings["starts"] = {"count": 1}  # as where the others did not settle
    before = len(keeper.bench.tasks)
    keeper.heard(PICTURED, "entry-1")
    assert len(keeper.bench.tasks) == before and not list(tmp_path.glob("entry-2*"))


def test_a_change_ends_making_sure_and_what_fails_is_not_begun_again(open_book):
    keeper = open_book()
    settled(keeper, conclusion=OPEN)
    keeper.heard(PICTURED, "entry-1")
    do(keeper, "type", name="draft.length_cm", text="100")
    assert keeper.bench.tasks[-1].kind == "settle" and keeper.being_sure is None
    settled(keeper, conclusion={"text": "Undecided.", "sits": {"entry-2": "undecided"}})
    keeper.heard(PICTURED, "entry-2")
    keeper.heard(FAILED, "It did not settle.")
    before = len(keeper.bench.tasks)
    keeper.heard(PICTURED, "entry-2")
    assert len(keeper.bench.tasks) == before and keeper.state_word() == "rest"


def test_what_is_to_be_shown_is_shown_before_the_book_makes_sure(open_book):
    keeper = open_book()
    settled(keeper)
    do(keeper, "type", name="draft.length_cm", text="100")
    settled(keeper)
    before = len(keeper.bench.tasks)
    keeper.bench.is_busy = True  # another entry is being laid over
    keeper.heard(PICTURED, "entry-2")
    assert len(keeper.bench.tasks) == before and keeper.being_sure is None
    keeper.bench.is_busy = False
    asyncio.run(keeper.came(Came("entry-1")))
    assert keeper.bench.tasks[-1].kind == "sure" and keeper.being_sure == 2


def test_what_may_be_wrong_after_one_settling_is_not_to_be_tried_yet(open_book):
    keeper = open_book()
    fault = open_closure(undecided=True)
    settled(keeper, verdicts=[fault])
    assert 'data-do="try"' not in parts_of(keeper, ["answer"])["answer"]
    settled_again = {"verdicts": [fault], "starts": {"count": 8}}
    keeper.being_sure = 1
    settled(keeper, **settled_again)
    assert 'data-do="try"' in parts_of(keeper, ["answer"])["answer"]


def test_no_text_of_an_order_or_an_entry_is_a_tag_on_the_page(open_book, tmp_path):
    """Title, other scenes' names, and what is said of a settled entry; the page's policy is tried in test_gate."""

    def tags(words):
        (tmp_path / f"{words.replace('/', '')[:80]}.toml").write_text('title = "another"\n', encoding="utf-8")
        keeper = open_book()
        do(keeper, "type", name="title", text=words)
        verdict = {"where": words, "finding": words, "mend": words, "harm": "cut", "reading": words, "undecided": False}
        settled(keeper, verdicts=[verdict], conclusion={"text": words})
        assert keeper.scene.title == words
        html = "".join(parts_of(keeper).values())
        for path in tmp_path.iterdir():
            path.unlink()
        return len(re.findall("<[a-z/!]", html))

    assert tags(" ".join(one for one in HOSTILE if one.isprintable())) == tags("ferry warden")
