"""What the library's geometry says to the torque arm of lesson 02."""

from susgeo.geometry.measure import coordinates

TRUTH = {
    "arm_view": lambda car: dict(zip(("x_IC", "z_IC"), coordinates(car.rear.side_view_instant_center), strict=True))
}
