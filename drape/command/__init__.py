"""Arguments come in; files, words and an exit code go out."""

__all__ = []
