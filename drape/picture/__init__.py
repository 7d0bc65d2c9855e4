"""A fitting comes in; images, pages and models go out."""

__all__ = [
    "choices",
    "figure_sheet",
    "mesh_file",
    "model",
    "surfaces",
]
