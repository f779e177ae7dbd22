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
