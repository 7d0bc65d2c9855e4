"""Tape measures come in; a closed mannequin with landmarks and its signed distance go out."""

__all__ = [
    "arm_pose",
    "figure",
    "girth",
    "measure_table",
    "signed_distance",
    "stance",
    "survey",
    "tape",
    "trunk",
    "worn_under",
]
