"""A scene comes in; a fitting goes out: the cloak settled on its wearer, read and judged."""

__all__ = [
    "body_card",
    "body_form",
    "catalogue",
    "clock",
    "ensemble",
    "front_door",
    "hem_to_cut",
    "hem_trim",
    "mend",
    "quality",
    "scene",
    "scene_keys",
    "settled_hem",
    "settling_process",
    "side_by_side",
    "sit",
    "starter_scene",
]
