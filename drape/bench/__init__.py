"""A cloth and a textile test come in; what the solver does beside the exact answer goes out."""

__all__ = ["table_top", "table_top_card", "table_top_words", "trial", "trial_drawing", "trial_options"]
