"""A settled cloak comes in; how it lies worn otherwise, and when one moves in it, goes out."""

__all__ = [
    "choices",
    "sentences",
    "starts",
    "wear",
    "wetting",
    "words",
]
