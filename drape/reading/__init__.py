"""A shape at rest comes in; numbers and sentences on how it sits go out."""

__all__ = [
    "by_vertex",
    "cautions",
    "comparison",
    "level_section",
    "result",
    "seated",
    "spread",
    "table",
    "verdict",
    "worn",
]
