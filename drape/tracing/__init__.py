"""A line drawing of a cloak comes in; what was taken for what, and a scene of it, go out."""

__all__ = ["shown", "trace", "traced_scene"]
