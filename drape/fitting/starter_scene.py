"""The text of a scene to start from, which `drape new` writes.

Comes in: nothing. Goes out: TOML with a note beside every line; FILE stands for the name it is written
under. What a scene may say is left to `scene`; a test reads this one back.
"""

from __future__ import annotations

from typing import Final

STARTER_SCENE: Final = """\
# A scene for drape: one cloak draft, of one cloth, for one body.
# Every number's name ends in its unit. Lines starting with # are notes; take the # away to use them.
# Run it with:  drape sit FILE

title = "A half-circle cloak"
# expect = "The hem hangs level."  # what you think will happen: printed above the result, to hold it against

[figure]
body = "ferry-warden"             # a shipped body (see: drape bodies) or the path of your own file
# neck_base_girth_cm = 41.0       # any tape measure may be overridden here

# [stance]                        # how the body differs from an upright one; here or in the body's file
# stoop_cm = 4.0                  # how much further forward the neck stands over the waist
# head_forward_cm = 2.0
# full_back_cm = 1.5              # or full_chest_cm
# low_right_cm = 1.0              # how much lower the right shoulder point lies; or low_left_cm
# shoulders = "usual"             # or, where their slope is not given, "square" or "sloping"

# [arms]                          # how they are held under the cloak
# left = "down"                   # down, forearm across, forward, raised
# right = "out of the opening"    # the arm under the closure

# [worn_under]                    # what lies between body and cloak; kind may be "jacket" or "padded coat" instead
# chest_cm = 1.5                  # any of neck, shoulders, chest, back, waist, hips, arms; 0 to 5

[cloth]
cloth = "heavy melton"            # see: drape cloths; or the path of a file that drape cloth wrote
# areal_density_g_m2 = 620.0      # any key of the cloth may be overridden here

# [lining]                        # sewn in at neck, hem and edges, over the whole draft; slides between
# cloth = "light suiting"
# colour = "#8c3b3b"              # what the inside shows, in place of [picture] inside
# width_cm = 140.0                # of the cloth it is cut from; shrinkage_percent and price_per_metre as under [lay]

# [interlining]                   # between cloth and lining
# cloth = "calico"

[draft]
sweep_deg = 180.0                 # 90 to 360; 180: half circle
neck = "tailored"                 # "round": one arc; "tailored": shaped for the figure; "drawn": through your points
# cut_for = "lamp-bearer"         # the body the draft is worked out for, if another than the wearer
length_cm = 110.0                 # neck edge to hem, down the centre back; or, in its place, one of:
# length_to = "knee"              # waist, hip, mid-thigh, knee, mid-calf, ankle: trimmed on the settled cloth
# off_floor_cm = 5.0
# front_length_cm = 100.0         # another length in front, or front_length_to
# side_length_cm = 105.0          # over the shoulder from the side of the neck, or side_length_to
# level = true                    # trims the hem until the settled one is level
# front_neck_depth_cm = 22.5      # left out: worked out from the figure
# back_neck_depth_cm = 18.0
# neck_width_cm = 15.5
# neck_ease_cm = 1.0              # instead of the three above: slack beyond the neck-base girth
# neck_along_cm = [22, 16, 0, -15, -20]   # a drawn neck's points, from the first opening edge round to the last:
# neck_up_cm = [0, 16, 20, 13, 0]         # along that edge from the centre, and square to it
# hem_along_cm = [130, 92, 0, -92, -130]  # a drawn hem's points, the same way, instead of a length
# hem_up_cm = [0, 92, 125, 92, 0]
# first_edge_along_cm = [60, 127.2]       # a drawn opening edge, from the neck to the hem: along its straight line,
# first_edge_aside_cm = [1.5, 0]          # and how far outside of it; last_edge_along_cm and last_edge_aside_cm alike

[closure]
place = "right shoulder"          # or "left shoulder", or "centre front"
# shoulder_cut_intake_cm = 9.5    # taken out at the neck edge, half from each side; 0: straight
# shoulder_cut_length_cm = 15.0
# shoulder_cut_bow_cm = 0.5       # how far the cuts bow out at their middle; negative: in
# fastened_length_cm = 15.0       # how far down from the neck edge it is fastened, or in words:
# fastened_to = "elbow"           # collar, shoulder point or elbow; at centre front collar, chest, waist or hip
# fastening = "buttons"           # or "clasp", or "ties"
# buttons = 3                     # how many, or button_spacing_cm = 9.0
# button_diameter_cm = 2.0
# overlap_cm = 3.0                # cut on, half on either edge; the cloth settles without it

[[dart]]                          # on the shoulder without the closure; closed at centre front, one on each shoulder
# place = "left shoulder"         # or there; or azimuth_deg, 0 front, 90 left, 180 back; write [[dart]] again for more
# intake_cm = 9.5
# length_cm = 15.0                # or, in its place, point_short_cm: short of the shoulder point
# leg_bow_cm = 0.5                # how far its sides bow out at their middle

# [collar]                        # standing, a piece of its own, sewn to the neck edge
# height_cm = 4.5                 # at centre back
# front_height_cm = 4.0
# cut = "shaped"                  # narrower above, as the neck is; or "straight"
# taken_in_cm = 2.5               # how much shorter the top edge is than the neck seam
# grain_deg = 0.0                 # its warp, from its length
# closed = true                   # its ends are held together; false: it stands open
# buttons = 1                     # on its ends

# [[dags]]                        # one for each edge to be cut into dags
# edge = "hem"                    # hem, opening or collar
# kind = "round"                  # square, round, pointed or leaf
# width_cm = 9.0                  # about: fitted so that the edge begins and ends with a whole one
# depth_cm = 6.0

# [facing]                        # cut from the same cloth
# opening_cm = 8.0                # along both opening edges
# collar = true                   # an inner collar

# [allowances]                    # cut on beyond the finished edges; a cut edge of fulled wool needs none
# neck_cm = 1.5
# opening_cm = 2.0
# hem_cm = 4.0
# collar_cm = 1.0                 # its top edge

[settle]
edge_length_cm = 1.5              # size of the triangles: smaller is finer and slower

# [verdict]                       # limits of your own, instead of the usual ones
# gap_cm = 1.0

[picture]
outside = "#44648c"
inside = "#cf9a45"
figure = "#e9e1d1"
"""
