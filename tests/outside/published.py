"""Numbers and curves from print, and the case that came with the order for this library."""

import numpy as np

CLUB_AXLE = {
    "source": "given with the order for this library, calculated by two independent routes outside it",
    "lower": (((0, 500, 240), (600, 400, 290)), ((0, -500, 240), (600, -400, 290))),
    "upper": (((-50, 0, 470), (400, 0, 450)),),
    "bar": ((-120, 480, 300), (-120, -470, 300)),
    "roll center": 307.308,
    "roll axis slope": 0.0608974,
    "instant center": (1782.609, 388.551),
    "convergence": (3000, 0, 490),
    "roll center with parallel lower links": 310.0,
}

BARTON_FIELDHOUSE = {
    "source": "Barton and Fieldhouse, Automotive Chassis Engineering, Springer, p. 174 (handed on, not seen here)",
    "sprung mass [kg]": 1280.0,
    "share": {"front": 0.54, "rear": 0.46},
    "roll center [m]": {"front": 0.07, "rear": 0.32},
    "height over the roll axis [m]": 0.365,
    "track [m]": 1.46,
    "lateral acceleration [g]": 0.6,
    "axle mass [kg]": {"front": 140.0, "rear": 180.0},
    "axle height [m]": {"front": 0.280, "rear": 0.300},
    "roll stiffness [N m/rad]": 28650.0,  # both axles, before the gravity term
    # As printed; the book's elastic row does not add up and is left out.
    "geometric transfer [N]": {"front": 195, "rear": 760},
    "unsprung transfer [N]": {"front": 158, "rear": 218},
    "roll gradient [rad/(m/s2)]": 0.0194,
    "roll gradient [deg/g]": 10.9,
}
"""The printed values are rounded to the digits shown."""


TWO_TRANSVERSALS = {
    "source": "documentation of PHCpack, phcpy tutorial, 'lines meeting four given lines', the real instance; 8 digits",
    # Four lines, each through two points in homogeneous coordinates (the two columns of a matrix).
    "lines": (
        ((-0.63223829, 0.24317589, 0.44517428, -0.58562795), (-0.07958136, -0.42625018, 0.75891681, 0.48582185)),
        ((-0.63156273, 0.31098671, 0.32529788, -0.63134544), (0.07848797, -0.49445305, 0.85734178, 0.11966993)),
        ((-0.66765465, -0.41782225, 0.14470336, 0.59893469), (-0.21150281, -0.46153796, -0.77816698, -0.36973696)),
        ((-0.69033039, -0.09104114, 0.66631728, 0.26678969), (0.11246161, -0.32159814, -0.28602371, 0.89561011)),
    ),
    "transversals": (
        ((1, -0.0284638, -1.06771883, 0), (0, 1, -0.11934875, -4.99706612)),
        ((1, -0.05527349, -0.66055882, 0), (0, 1, -0.11934875, -2.57330433)),
    ),
}

FOUR_BAR = {
    "source": "Morgan and Wampler, Solving a Planar Four-Bar Design Using Continuation, Journal of Mechanical Design 112 "
    "(1990), problem 7, as given in the documentation of PHCpack; one of its real designs, to four digits",
    "pivots": ((0.0, 0.0), (1.0, 0.0)),
    "points": ((0.50, 1.06), (0.22, 0.78), (-0.13, 0.43), (-0.34, 0.22), (-0.83, -0.27)),
    # Joints of the coupler with the two bars, from the first point, where it stands there.
    "joints": ((-0.0878, -0.8514), (0.2358, -1.4190)),
}

TUBE_COLUMN = {
    "source": "Gere, Mechanics of Materials, 7th edition, problem 11.4-2 (handed on, not seen here)",
    "outer [mm]": 40.0, "inner [mm]": 36.0, "length [mm]": 1200.0, "modulus [N/mm2]": 210_000.0,
    "load [kN]": 62.2,
}  # fmt: skip
"""Three digits are printed."""

HOLLOW_COLUMN = {
    "source": "a worked answer, askanewquestion.com, question 938172, to problem 9.4 on p. 244 of a textbook it links (seen "
    "as a stored page)",
    "outer [mm]": 38.0, "wall [mm]": 2.5, "length [mm]": 2300.0, "modulus [N/mm2]": 205_000.0,
    "area [mm2]": 278.8, "second moment [mm4]": 44140.0, "radius of gyration [mm]": 12.6, "load [kN]": 16.8,
}  # fmt: skip
"""The load is cut off after its first decimal, not rounded: 16.88; the rest is rounded."""


def no_squat_line(mass, axle_mass, radius, base, height, ahead):
    """Return how high, so far ahead of the rear wheels, an instant center lies that lets the rear neither squat nor rise.

    The line from m R / M below the tires' contact patch, m the rear axle's mass and M all the rest, to the height of M's center
    of gravity over the front wheels. Source: eng-tips.com, thread 94082, 'Traditional no squat line placement' (seen as a
    stored page).
    """
    rest = mass - axle_mass
    below, over = axle_mass * radius / rest, (mass * height - axle_mass * radius) / rest
    return (over + below) * ahead / base - below


def watts_curve(a, b, c, angle):
    """Return both branches of r squared of Watt's curve at a polar angle; nan where there is none.

    Two circles of radius b with centers 2a apart, a coupler of length 2c between them, its middle the point:
    r^2 = b^2 - (a sin t +- sqrt(c^2 - a^2 cos^2 t))^2. Source: MathWorld, 'Watt's Curve'; also MacTutor.
    """
    with np.errstate(invalid="ignore"):
        square = np.sqrt(c**2 - (a * np.cos(angle)) ** 2)
    return tuple(b**2 - (a * np.sin(angle) + sign * square) ** 2 for sign in (1, -1))


def watt_stray(rise, rod, arm):
    """Return the first term of a level, symmetric Watt's linkage's stray from the straight: z^5 / (8 R^3 k)."""
    return rise**5 / (8 * rod**3 * arm)


def panhard_shift(rise, length):
    """Return how far a bar that is level at rest pulls sideways: its end stays on a circle (Pythagoras)."""
    return length - np.sqrt(length**2 - rise**2)
