"""Texts that a title, a name or an order may hold, each of which is something else to a program that does not look."""

from __future__ import annotations

HOSTILE = (
    "</script><script>document.title='OWNED'</script>",
    "<!--<script>",
    "</title><img src=x onerror=\"document.title='OWNED'\">",
    "\" onload=\"document.title='OWNED'\" x='",
    "{{ 7 * 7 }} {% raw %} ${7*7} #{7*7}",
    "$\\frac{1}{$ \\begin{x} %%d ^J",
    "]]></text><script>document.title='OWNED'</script>",
    "&lt;b&gt; &#60;b&#62; &amp",
    "a\u2028document.title='OWNED'",
    "_underlined",
    "(unbalanced \\ parenthesis) Tj",
)

# what would steer a terminal, or turn the letters after it round
STEERING = (
    "\x1b]0;OWNED\x07", "\x1b[2J\x1b[31mred", "\x9b31mred", "bell\x07", "over\rOWNED", "\u202egnp.exe",
    "a\u2066b\u2069", "un\u200bseen", "line\u2028line",
)  # fmt: skip

# what is too long for its line, has letters that type has not, or runs the other way
UNWIELDY = (
    "The ferry warden's cloak of the river pageant " * 6, "W" * 300, "i" * 5_000,
    "lamp \U0001f468\u200d\U0001f33e\U0001f9e5 \u65e5\u672c \u05e9\u05dc\u05d5\u05dd 47\u00a0%", "line\nline\ttab",
)  # fmt: skip

# what a spreadsheet takes for a formula
FORMULAS = ('=HYPERLINK("https://example.org")', "+1+cmd|' /C calc'!A0", "-2+3", "@SUM(1)", "\t=1")
