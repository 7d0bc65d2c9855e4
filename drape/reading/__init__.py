"""A shape at rest comes in; numbers and sentences on how it sits go out."""

__all__ = [
    "brief",
    "by_vertex",
    "cautions",
    "comparison",
    "conclusion",
    "damage",
    "first_table",
    "level_section",
    "places",
    "result",
    "seated",
    "spread",
    "starts",
    "table",
    "verdict",
    "worn",
]
