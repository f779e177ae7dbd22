"""Truth from outside: the same linkages by means that share no formula and no import with susgeo.

Plain data goes in (points as three numbers, mm), plain numbers come out. No construction line, instant center
or row of a rod's line appears here: positions come from the lengths of rods (``rigid``), forces from free bodies
(``statics``), both once more from a general-purpose rigid-body engine (``engine``), meets of drawn lines from
general-purpose geometry (``planar``), and some numbers from print (``published``).

Axes after ISO 8855: x forward, y left, z up; positive roll lifts the left side, positive pitch is nose down,
positive yaw turns to the left. The origin is on the ground below the middle of the axle.
"""
