"""Files as no one should write them: a seeded stream of scenes, bodies, forms and saved fittings, each with a few
things changed, so that what reads them can be seen to take them or to refuse them in a line."""

from __future__ import annotations

import io
import json
import random
import re
from pathlib import Path
from typing import Any

import numpy as np
from hostile import HOSTILE

NUMBERS = (
    "0", "-0.0", "1", "-1", "1e-300", "1e300", "-1e300", "nan", "inf", "-inf", "0x" + "f" * 4000, "9" * 4000, "1e400",
    "0.0001", "13.7", "359.99", "41,5", "true", '"12"', "[1, 2]", "{ a = 1 }", "1979-05-27", "", "'''",
)  # fmt: skip
WORDS = (
    '""', '"ferry-warden"', '"../ferry-warden.toml"', '"\\u0000"', '"con"', '"round"', '"tailored"', '"hem"', '"none"',
    '"lengthwise"', '"centre front"', '"raised"', "5", "[]", '"' + "é" * 3000 + '"',
)  # fmt: skip
TABLES = (
    "[stance]\nstoop_cm = {:.1f}\nfull_back_cm = {:.1f}\nlow_left_cm = {:.1f}\n",
    '[arms]\nleft = "raised"\nright = "forearm across"\n',
    "[collar]\nheight_cm = {:.1f}\ntaken_in_cm = {:.1f}\n",
    "[collar]\nheight_cm = {:.1f}\nfront_height_cm = {:.1f}\nbuttons = 2\n",
    '[[dags]]\nedge = "hem"\nkind = "round"\nwidth_cm = {:.1f}\ndepth_cm = {:.1f}\n',
    '[[dags]]\nedge = "opening"\nkind = "pointed"\nwidth_cm = {:.1f}\ndepth_cm = {:.1f}\n',
    "[piecing]\nwidth_cm = {:.1f}\ngrain_deg = {:.1f}\n",
    '[lay]\nnap = "one way"\nfold = "lengthwise"\nshrinkage_percent = {:.1f}\n',
    "[[flaw]]\nalong_cm = {:.1f}\nacross_cm = {:.1f}\nradius_cm = {:.1f}\n",
    '[lining]\ncloth = "light suiting"\nwidth_cm = {:.1f}\n',
    '[[dart]]\nplace = "left shoulder"\nlength_cm = {:.1f}\nintake_cm = {:.1f}\n',
)


def mutated_text(text: str, source: random.Random) -> str:
    """A file's text with one to three things changed: a number, a word, a line, a table, a few bytes."""
    for _ in range(source.randint(1, 3)):
        text = source.choice((_other_number, _other_number, _other_word, _other_line, _more_table, _garbage))(
            text, source
        )
    return text


def _other_number(text: str, source: random.Random) -> str:
    """One number written otherwise: of another size, or none at all."""
    found = list(re.finditer(r"(?m)^(\w+\s*=\s*)(-?[\d.]+)(?=\s*(?:#|$))", text))
    if not found:
        return text
    one = source.choice(found)
    near = f"{float(one[2]) * source.choice((0.2, 0.5, 0.8, 0.95, 1.05, 1.3, 2.0, 10.0)):.3f}"
    value = near if source.random() < 0.6 else source.choice(NUMBERS)
    return text[: one.start(2)] + value + text[one.end(2) :]


def _other_word(text: str, source: random.Random) -> str:
    found = list(re.finditer(r'(?m)^(\w+\s*=\s*)("[^"\n]*")', text))
    if not found:
        return text
    one = source.choice(found)
    value = source.choice(WORDS) if source.random() < 0.5 else json.dumps(source.choice(HOSTILE))
    return text[: one.start(2)] + value + text[one.end(2) :]


def _other_line(text: str, source: random.Random) -> str:
    """A line left out, doubled, moved or with its key misspelt."""
    lines = text.split("\n")
    k, way = source.randrange(len(lines)), source.randrange(4)
    if way == 0:
        del lines[k]
    elif way == 1:
        lines.insert(k, lines[k])
    elif way == 2:
        lines.insert(source.randrange(len(lines)), lines.pop(k))
    else:
        lines[k] = lines[k].replace("_cm", source.choice(("_mm", "", "_in", "_deg")), 1)
    return "\n".join(lines)


def _more_table(text: str, source: random.Random) -> str:
    table = source.choice(TABLES)
    return f"{text}\n{table.format(*(source.choice((-5.0, 0.5, 1.0, 4.0, 12.0, 70.0)) for _ in range(3)))}"


def _garbage(text: str, source: random.Random) -> str:
    k = source.randrange(len(text) + 1)
    odd = source.choice(("\x00", "\u2028", "[", "]]", "a." * 60 + "a = 1\n", "{" * 50, '"""', "\\", "\ufeff", "# é\n"))
    return text[:k] + odd + text[k + source.choice((0, 0, 3)) :]


def mutated_fitting(whole: bytes, source: random.Random) -> bytes:
    """A saved fitting with a few bytes changed, an array damaged, or a word replaced."""
    way = source.randrange(3)
    if way == 0:
        raw = bytearray(whole)
        for _ in range(source.randint(1, 20)):
            raw[source.randrange(len(raw))] = source.randrange(256)
        return bytes(raw[: source.choice((len(raw), len(raw) // 2, 100))])
    with np.load(io.BytesIO(whole)) as stored:
        arrays = {name: stored[name] for name in stored.files}
    if way == 1:
        name = source.choice([name for name in arrays if name != "words"])
        arrays[name] = _damaged(arrays[name], source)
    else:
        words = json.loads(str(arrays["words"]))
        _replace_one(words, source)
        arrays["words"] = np.array(json.dumps(words))
    held = io.BytesIO()
    np.savez(held, **arrays)
    return held.getvalue()


def _damaged(array: np.ndarray, source: random.Random) -> np.ndarray:
    way = source.randrange(5)
    if way == 0:
        return array[: source.randrange(len(array) + 1)]
    if way == 1:
        return array.astype(source.choice(("f4", "U8", "c16", "?", "i2")))
    if way == 2:
        return array.reshape(-1)
    changed = array.copy()
    value = source.choice((-1, 10**6, 0)) if changed.dtype.kind == "i" else source.choice((np.nan, np.inf, 1e9, 0.0))
    changed.reshape(-1)[source.randrange(changed.size)] = value
    return changed


def _replace_one(words: Any, source: random.Random) -> None:
    """One value somewhere within, replaced by one of another kind."""
    keys = list(words) if isinstance(words, dict) else range(len(words))
    if not keys:
        return
    key = source.choice(list(keys))
    if isinstance(words[key], (dict, list)) and words[key] and source.random() < 0.8:
        _replace_one(words[key], source)
    else:
        words[key] = source.choice((None, -1, 1e12, float("nan"), "", "../../x", [], {}, True, [[1]], *HOSTILE))


ODD_BYTES = (
    b"\x00", b"<", b"</g>", b"]]>", b"&a;", b"\xff\xfe", b'transform="matrix(0 0 0 0 0 0)"', b'd="M 0,0 L"',
    b"  0\nEOF\n", b'<!DOCTYPE a [<!ENTITY a "' + b"x" * 500 + b'">]>', b"<g>" * 300, b'<use href="#g10"/>',
    b"9" * 3000, b"\n70\n-1\n",
)  # fmt: skip


def mutated_drawing(whole: bytes, source: random.Random) -> bytes:
    """A drawing with one to four things changed: a number, a stretch left out or doubled, odd bytes put in."""
    for _ in range(source.randint(1, 4)):
        way, at = source.randrange(5), source.randrange(len(whole) + 1)
        if way < 2 and (numbers := list(re.finditer(rb"-?\d+\.?\d*", whole))):
            one = source.choice(numbers)
            near = f"{float(one[0]) * source.choice((-1.0, 0.0, 0.5, 0.95, 1.05, 2.0, 1e6)):.4f}"
            value = near if source.random() < 0.7 else source.choice(NUMBERS)
            whole = whole[: one.start()] + value.encode() + whole[one.end() :]
        elif way == 2:
            whole = whole[:at] + whole[at + source.choice((1, 20, 400)) :]
        elif way == 3:
            whole = whole[:at] + whole[max(0, at - source.choice((5, 60, 900))) :]
        else:
            whole = whole[:at] + source.choice(ODD_BYTES) + whole[at:]
    return whole


def shipped_texts(folder: Path) -> list[str]:
    return [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.toml"))]
