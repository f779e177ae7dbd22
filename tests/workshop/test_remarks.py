"""Plausible slips of the tape, made on the course's own cars, and sound cars that must be left alone.

The slips are facts of the trade (common practice, no source): those that test readers of the course made.
"""

from dataclasses import replace

import pytest

from outside import axles, fronts
from susgeo import dimensions, load_car, moved, read_car, remarks, save_car
from susgeo.car.pickup import mapped
from susgeo.car.write import write_car
from susgeo.errors import SusgeoError
from susgeo.files import DATA

BUNDLED = {path.stem: load_car(path) for path in sorted(DATA.glob("*.toml"))}
LENGTHS = ("track", "tire_radius", "cg_height", "spacing", "diameter", "span", "arm")
SLIPS = {
    "an inch number among mm": lambda value, radius: value / 25.4,
    "a mm number among inches": lambda value, radius: value * 25.4,
    "the point slipped": lambda value, radius: value * 10,
    "in cm": lambda value, radius: value / 10,
    "the other sign": lambda value, radius: -value,
    "from the wheel center": lambda value, radius: value - radius,
    "left to right, not from the middle": lambda value, radius: 2 * value,
}
OF_ONE_AXIS = {"the other sign": "xy", "from the wheel center": "z", "left to right, not from the middle": "y"}


def told(car, changes):
    """What is said of a car with slips in it: remarks, or the sentence with which it is refused."""
    try:
        return [str(each) for each in remarks(mapped(car, lambda place, value: changes.get(place, value)))]
    except SusgeoError as refused:
        return [str(refused)]


@pytest.mark.parametrize("name", BUNDLED)
def test_no_car_of_the_course_draws_a_remark(name):
    assert remarks(BUNDLED[name]) == ()


def test_sound_random_cars_are_left_alone():
    cars = [read_car(axles.car_file(axles.plausible(kind, seed))) for kind in axles.KINDS for seed in range(30)]
    cars += [
        read_car(fronts.car_file(fronts.plausible(kind, seed), 1430, 300))
        for kind in fronts.KINDS
        for seed in range(50)
    ]
    doubted = [car for car in cars if remarks(car)]
    assert len(doubted) <= len(cars) / 50, [str(remarks(car)[0]) for car in doubted]


@pytest.mark.parametrize("slip", SLIPS)
def test_a_joint_misread_draws_a_remark(slip):
    """Every coordinate of every car, unless the slip moves it by less than 105 mm: nobody could see that."""
    silent, tried = [], 0
    for name, car in BUNDLED.items():
        for place, value in dimensions(car).items():
            axis, wanted = place.rpartition(".")[2], OF_ONE_AXIS.get(slip, "xyz")
            new = SLIPS[slip](float(value), float(car.rear.tire_radius))
            if axis in wanted and len(axis) == 1 and abs(new - float(value)) >= 105:
                tried += 1
                if not told(car, {place: new}):
                    silent.append(f"{name} {place}: {float(value):g} as {new:g}")
    assert tried > 50 and len(silent) <= 0.06 * tried, silent  # a spring may stand ahead of the axle, or behind


# What else can be misread: each with words that the remark must have.
OTHERS = [
    ("three_link", {"rear.track": 55.1}, "Read in inches it is 1399.5 mm"),
    ("three_link", {"rear.track": 140}, "may have slipped: 1400.0 mm"),
    ("three_link", {"rear.tire_radius": 620}, "not across the tire"),
    ("three_link", {"rear.tire_radius": 12.2}, "Read in inches"),
    ("three_link", {"wheelbase": 5400}, "wheelbase over rear track"),
    ("three_link", {"weight.cg_height": 5400}, "540.0 mm"),
    ("three_link", {"weight.cg_height": 0.54}, "540.0 mm"),
    ("three_link", {"weight.cg_height": 21.26}, "Read in inches"),
    ("three_link", {"weight.cg_height": 230}, "height of the center of gravity"),
    ("three_link", {"weight.mass": 25350}, "mass of the car"),
    ("three_link", {"weight.mass": 3300}, "Pounds would be 1497 kg"),
    ("three_link", {"weight.mass": 2535}, "Pounds would be 1150 kg"),
    ("three_link", {"weight.rear_unsprung_mass": 600}, "less on this axle than it weighs itself"),
    ("three_link", {"weight.rear_unsprung_mass": 309}, "Pounds would be 140 kg"),
    ("club_coupe", {"weight.front_unsprung_mass": 176}, "Pounds would be 80 kg"),
    ("three_link", {"weight.front_share": 0.053}, "front share of the mass"),
    ("three_link", {"brake_front_share": 0.35}, "more than half in front"),
    ("three_link", {"rear_springs.rate": 154}, "Pounds per inch would be 27.0 N/mm"),
    ("three_link", {"rear_springs.rate": 170}, "Pounds per inch would be"),
    ("three_link", {"rear_springs.rate": 2.7}, "27.0 N/mm"),
    ("three_link", {"rear_springs.spacing": 480}, "from the left spring to the right one"),
    ("club_coupe", {"front_springs.anti_roll_rate": 5157}, "Per radian it would be 90"),
    ("torque_arm", {"rear_springs.bar.diameter": 1.8}, "18.0 mm"),
    ("torque_arm", {"shaft.pinion_angle": -0.0524}, "Look at the sign"),
    ("torque_arm", {"rear_springs.coil.rate": 154}, "27.0 N/mm"),
    ("club_coupe", {"front.tie_rod.axle.y": -620, "front.tie_rod.chassis.y": -330}, "other sign"),
    ("live_front", {"front.track": 2900}, "front track"),
]


@pytest.mark.parametrize(("name", "changes", "words"), OTHERS, ids=lambda given: str(given)[:40])
def test_a_size_weight_or_rate_misread_says_what_may_be_meant(name, changes, words):
    assert words.lower() in " ".join(told(BUNDLED[name], changes)).lower()


def swapped(car, first, second):
    """The same car with two joints, or two dimensions, in each other's place."""
    sizes = dimensions(car)
    places = [(f"{first}.{axis}", f"{second}.{axis}") for axis in "xyz"]
    there = [(a, b) for a, b in places if a in sizes and b in sizes]
    return {new: float(sizes[old]) for a, b in there for new, old in ((a, b), (b, a))}


EXCHANGED = [
    ("three_link", "rear.lower.axle", "rear.lower.chassis", "exchanged"),
    ("three_link", "rear.upper.axle", "rear.upper.chassis", "exchanged"),
    ("converging_four_link", "rear.upper.axle", "rear.upper.chassis", "exchanged"),
    ("a_frame", "rear.lower.axle", "rear.lower.chassis", "exchanged"),
    ("live_front", "front.lower.axle", "front.lower.chassis", "exchanged"),
    ("offset_watt", "rear.locator.left_end", "rear.locator.right_end", "exchange left and right"),
    ("offset_watt", "rear.locator.left_crank", "rear.locator.left_end", ""),
    ("offset_watt", "rear.locator.pivot", "rear.locator.left_crank", "distance from left crank"),
    ("mumford", "rear.locator.left_pivot", "rear.locator.right_pivot", ""),
    ("double_wishbone", "front.lower.front_pivot", "front.lower.rear_pivot", "exchanged"),
    ("double_wishbone", "front.lower.ball_joint", "front.lower.front_pivot", "exchanged"),
    ("double_wishbone", "front.lower.ball_joint", "front.upper.ball_joint", ""),
    ("club_coupe", "front.upper.top_mount", "front.upper.lower_point", "exchanged"),
    ("club_coupe", "front.tie_rod.axle", "front.tie_rod.chassis", "exchanged"),
    ("torque_arm", "rear_springs.coil.axle", "rear_springs.coil.chassis", "exchanged"),
    ("torque_arm", "shaft.gearbox", "shaft.pinion", "exchanged"),
]


@pytest.mark.parametrize(("name", "first", "second", "words"), EXCHANGED)
def test_joints_exchanged_draw_a_remark(name, first, second, words):
    found = told(BUNDLED[name], swapped(BUNDLED[name], first, second))
    assert found and words in " ".join(found)


def test_upper_and_lower_links_exchanged():
    car = BUNDLED["parallel_four_link_watt"]
    assert "upper and lower links exchanged" in " ".join(
        told(
            car,
            swapped(car, "rear.lower.axle", "rear.upper.axle")
            | swapped(car, "rear.lower.chassis", "rear.upper.chassis"),
        )
    )


def test_a_remark_speaks_the_unit_of_the_file():
    car = BUNDLED["inches_three_link"]
    (first, *_) = remarks(moved(car, {"rear.upper.axle.z": 470 * 25.4}))
    assert "470.00 in; usual here is" in first.says and "Read in mm it is 18.50 in" in first.says


# Units of mass and rate


def test_pounds_and_pounds_per_inch_are_declared_once():
    """1 lb is 0.45359237 kg (1959), 1 lb/in so much times 9.80665 m/s^2 over 25.4 mm; from memory."""
    text = (DATA / "club_coupe.toml").read_text("utf-8")
    declared = text.replace('units = "mm"', 'units = "mm"\nmass_units = "lb"\nrate_units = "lb/in"')
    car, plain = read_car(declared), read_car(text)
    assert car.weight.mass == pytest.approx(1080 * 0.45359237) and plain.weight.mass == 1080
    assert car.rear_springs.rate == pytest.approx(30 * 0.45359237 * 9.80665 / 25.4) and plain.rear_springs.rate == 30
    assert car.front_springs.anti_roll_rate == pytest.approx(90 * 0.45359237 * 9.80665 * 0.3048)  # lb ft
    assert write_car(read_car(write_car(car))) == write_car(car)
    assert "mass_units" not in write_car(plain)


def test_the_same_car_in_pounds_is_the_same_car(tmp_path):
    car = BUNDLED["club_coupe"]
    save_car(replace(car, mass_units="lb", rate_units="lb/in"), tmp_path / "pounds.toml")
    again = load_car(tmp_path / "pounds.toml")
    assert "mass = 2380.99" in (tmp_path / "pounds.toml").read_text()  # 1080 / 0.45359237
    assert dimensions(again) == pytest.approx(dimensions(car), rel=1e-11)
    assert remarks(again) == ()


def test_an_unknown_unit_of_mass_is_refused_with_the_known_ones():
    text = (DATA / "three_link.toml").read_text("utf-8").replace('units = "mm"', 'units = "mm"\nmass_units = "lbs"')
    with pytest.raises(SusgeoError, match='field mass_units: got "lbs", expected "kg" or "lb"; did you mean lb'):
        read_car(text)
