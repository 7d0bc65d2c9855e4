"""A fitting comes in; images, pages and models go out."""

__all__ = [
    "choices",
    "figure_sheet",
    "html_report",
    "mesh_file",
    "model",
    "plots",
    "surfaces",
]
