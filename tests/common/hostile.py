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
