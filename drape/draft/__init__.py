"""A figure and what the maker asks for come in; a flat outline with named edges goes out."""

__all__ = [
    "cloak",
    "cut_line",
    "dimensions",
    "drawn_edges",
    "hem",
    "neck_kinds",
    "neckline",
    "outline",
    "panels",
    "remarks",
    "style",
]
