"""A flat outline and the width of the cloth come in; pieces, lay, sheets and what to buy go out."""

__all__ = [
    "chalk_card",
    "chalk_points",
    "cut",
    "draft_drawing",
    "facings",
    "lay",
    "piecing",
]
