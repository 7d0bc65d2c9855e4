"""A folder of scenes comes in; a page to work in goes out, served to the maker's own browser."""

__all__ = ["launch"]
