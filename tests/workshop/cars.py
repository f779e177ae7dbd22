"""Three invented cars, as files: see test_sheet.py."""

UNEVEN = """
title = "Rosa's wagon"
units = "in"
mass_units = "lb"
rate_units = "lb/in"
wheelbase = 104.5
[weight]
mass = 2480
front_share = 0.54
cg_height = 21.25
rear_unsprung_mass = 310
[brakes]
front_share = 0.66
[rear]
type = "live axle"
track = 55.5
tire_radius = 12.25
[rear.lower_links.left]
axle = [0.25, 20.5, 9.0]
chassis = [22.0, 18.5, 10.375]
[rear.lower_links.right]
axle = [0.375, -20.375, 9.125]
chassis = [22.0, -18.625, 10.125]
[rear.upper_links.left]
axle = [-1.875, 4.375, 17.25]
chassis = [13.0, 15.75, 16.75]
[rear.upper_links.right]
axle = [-1.75, -4.25, 17.375]
chassis = [13.125, -15.625, 16.5]
"""
OFFSET = """
title = "Jan's pickup"
units = "mm"
wheelbase = 2840
[rear]
type = "live axle"
track = 1460
tire_radius = 335
[rear.lower_links]
axle = [10, 510, 250]
chassis = [640, 430, 300]
[rear.upper_link]
axle = [-40, 120, 500]
chassis = [420, 150, 480]
[rear.panhard_bar]
axle = [-130, 490, 330]
chassis = [-130, -480, 335]
"""
FIVE = """
title = "Noor's coupe"
units = "mm"
wheelbase = 2560
[weight]
mass = 1090
front_share = 0.53
cg_height = 515
front_unsprung_mass = 82
rear_unsprung_mass = 138
[brakes]
front_share = 0.67
[rear]
type = "live axle"
track = 1410
tire_radius = 305
[rear.lower_links]
axle = [10, 490, 215]
chassis = [600, 490, 255]
[rear.upper_links]
axle = [-15, 490, 420]
chassis = [440, 490, 412]
[rear.watts_linkage]
pivot_on = "axle"
pivot = [-170, 0, 295]
left_crank = [-170, 0, 365]
left_end = [-170, 470, 365]
right_crank = [-170, 0, 225]
right_end = [-170, -470, 225]
[rear.springs]
rate = 27
spacing = 930
[front]
type = "double wishbone"
track = 1430
tire_radius = 302
[front.lower_arm]
ball_joint = [5, 650, 198]
front_pivot = [155, 325, 212]
rear_pivot = [-190, 325, 208]
[front.upper_arm]
ball_joint = [-12, 622, 440]
front_pivot = [95, 385, 424]
rear_pivot = [-135, 385, 416]
[front.tie_rod]
axle = [-118, 632, 240]
chassis = [-122, 340, 238]
[front.springs]
rate = 25
spacing = 1430
anti_roll_rate = 170
"""
