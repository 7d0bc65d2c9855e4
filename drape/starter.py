"""The text of a scene to start from, which `drape new` writes.

Comes in: nothing. Goes out: TOML with a note beside every line; FILE stands for the name it is written
under. What a scene may say is left to `scene`; a test reads this one back.
"""

from __future__ import annotations

from typing import Final

STARTER_SCENE: Final = '''\
# A scene for drape: one cloak draft, of one cloth, for one body.
# Every number's name ends in its unit. Lines starting with # are notes; take the # away to use them.
# Run it with:  drape sit FILE

title = "A half-circle cloak"
expect = "What you think will happen, to hold the result against."

[figure]
body = "ferry-warden"             # a shipped body (see: drape bodies) or the path of your own file
# neck_base_girth_cm = 41.0       # any tape measure may be overridden here

[cloth]
preset = "heavy melton"           # see: drape cloths; or the path of a file that drape cloth wrote
# areal_density_g_m2 = 620.0      # any key of the cloth may be overridden here

# [lining]                        # sewn in at neck, hem and edges, over the whole draft; hangs with the cloth
# preset = "light suiting"
# colour = "#8c3b3b"              # what the inside shows, in place of [picture] inside

# [interlining]                   # between cloth and lining
# preset = "calico"

[draft]
sweep_deg = 180.0                 # 180: half circle
neck = "tailored"                 # "round": one arc; "tailored": shaped for the figure
length_cm = 110.0                 # neck edge to hem, down the centre back
# front_neck_depth_cm = 22.5      # left out: worked out from the figure
# back_neck_depth_cm = 18.0
# neck_width_cm = 15.5
# neck_ease_cm = 1.0              # instead of the three above: slack beyond the neck-base girth

[closure]
place = "right shoulder"
# shoulder_cut_intake_cm = 9.5    # taken out at the neck edge, half from each side; 0: straight
# shoulder_cut_length_cm = 15.0
# fastened_length_cm = 15.0       # how far down from the neck edge it is fastened

[[dart]]
place = "left shoulder"
# intake_cm = 9.5
# length_cm = 15.0

[settle]
edge_length_cm = 1.5              # size of the triangles: smaller is finer and slower

[picture]
outside = "#44648c"
inside = "#cf9a45"
figure = "#e9e1d1"
'''
