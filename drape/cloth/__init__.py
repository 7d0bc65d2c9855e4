"""A flat outline, a cloth and a figure come in; the shape in which the cloth rests goes out."""

__all__ = ["body_contact", "dressing", "mesh", "rehearsal", "relaxation", "self_contact", "sheet", "transfer", "wet"]
