"""A plan of what varies comes in; many fittings go out as one table, with what they say together."""

__all__ = ["conduct", "engine", "files", "members", "plan", "summary", "told"]
