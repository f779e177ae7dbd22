"""The search as one system: many cars against one at a time, and the choices against trying all of them.

Positions, forces and clearances of single cars are confirmed from outside in tests/loads, tests/travel and tests/workshop; here each
row of the arrays is held against the library's own answer for one plain car.
"""

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import differential_evolution, least_squares

from outside import rigid
from outside.axles import mechanism
from susgeo import (
    Bracket,
    Conditions,
    Obstacle,
    Point,
    PropellerShaft,
    SusgeoError,
    Target,
    clearance,
    coordinates,
    corner_end,
    dimensions,
    load_car,
    margin,
    moved,
    numbers,
    rod_forces,
    search,
    solve_corner,
    solve_travel,
    tire_forces,
)
from susgeo.loads.cornering import GRAVITY
from susgeo.results.many import CASES, CORNER_END, Many, at_heave
from susgeo.results.places import Problem

DATA = Path(__file__).resolve().parents[2] / "data"
HEIGHTS = np.array([-40.0, 0.0, 30.0])
FLOOR = Obstacle("floor", "upper link", (Point(0, 0, 560), Point(500, 0, 540)), 2.0)
PLACES = {"rear.lower.chassis.z": [120.0, 150.0, 180.0], "rear.upper.chassis.z": [330.0, 345.0, 380.0]}


@pytest.fixture(scope="module")
def club():
    shaft = PropellerShaft(Point(1300, 0, 330), Point(260, 0, 320), 0.05, 0.05)
    return replace(load_car(DATA / "club_coupe.toml"), shaft=shaft)


@pytest.fixture(scope="module")
def many(club):
    cars = moved(club, {place: np.array(values)[:, None] for place, values in PLACES.items()})
    return Many(cars, HEIGHTS, Conditions(lateral=4.0, obstacles=(FLOOR,)))


def alone(club, number):
    return moved(club, {place: values[number] for place, values in PLACES.items()})


def held(many, name, of, columns=HEIGHTS):
    """Compare every car and column with what one plain car comes to."""
    found = np.broadcast_to(many.value(name), (3, len(columns)))
    truth = [[of(number, column) for column in columns] for number in range(3)]
    np.testing.assert_allclose(found, truth, rtol=1e-7, atol=1e-9, err_msg=name)


def test_each_row_is_what_one_car_comes_to_at_one_height(club, many):
    def low(number, heave):
        return at_heave(alone(club, number), float(heave))

    def travel(number, heave, end="rear"):
        return solve_travel(getattr(alone(club, number), end), float(heave))

    for name in ("rear roll steer", "rear anti-squat", "roll gradient", "front bump steer", "rear pinion joint angle"):
        held(many, name, lambda n, h, name=name: numbers(low(n, h), [name])[name])
    held(many, "front toe-in since rest", lambda n, h: np.degrees(travel(n, h, "front").toe_in))
    held(many, "front camber since rest", lambda n, h: np.degrees(travel(n, h, "front").camber))
    held(many, "rear pinion angle since rest", lambda n, h: np.degrees(travel(n, h).pitch))
    held(many, "rear sideways shift since rest", lambda n, h: travel(n, h).y)
    held(many, "rear upper link angle", lambda n, h: np.degrees(travel(n, h).link_angles("side")[2]))
    held(many, "rear Panhard bar angle", lambda n, h: np.degrees(travel(n, h).link_angles("front")[3]))

    def force(number, heave, rod="upper link"):
        car = low(number, heave)
        return max(abs(rod_forces(car.rear, tire_forces(car, **case)).tension[rod]) for case in CASES.values())

    held(many, "rear upper link force", force)
    length = {n: alone(club, n).rear.upper[0].length for n in range(3)}

    def least(number, heave):
        car = low(number, heave)
        each = [rod_forces(car.rear, tire_forces(car, **case)).tension["upper link"] for case in CASES.values()]
        return min(margin(one, length[number], 30.0, 32_000, 3.0).lowest for one in each)

    held(many, "rear upper link margin", least)

    def gap(number, heave):
        car = alone(club, number)
        link = car.rear.upper[0]
        return clearance(travel(number, heave), "upper link", (link.axle, link.chassis), 16.0, FLOOR.points, 2.0)

    held(many, "rear clearance, upper link to floor", gap)

    def span(ends):
        return np.linalg.norm(np.subtract(*[[float(part) for part in coordinates(end)] for end in ends]))

    rest = span((club.shaft.gearbox, club.shaft.pinion))

    def longer(number, heave):
        state = travel(number, heave)
        return span((state.carried(club.shaft.gearbox, "chassis"), state.carried(club.shaft.pinion))) - rest

    held(many, "shaft length since rest", longer)


def test_angles_shift_and_lowest_joint_from_rigid_bodies(club, many):
    """Positions by an outside solver that knows no construction line."""
    rear = club.rear
    data = {
        "lower": [(tuple(map(float, coordinates(k.axle))), tuple(map(float, coordinates(k.chassis)))) for k in rear.lower],
        "upper": [(tuple(map(float, coordinates(k.axle))), tuple(map(float, coordinates(k.chassis)))) for k in rear.upper],
        "locator": ("panhard_bar", {"axle": coordinates(rear.locator.axle), "chassis": coordinates(rear.locator.chassis)}),
    }  # fmt: skip
    model, own = mechanism(data, float(rear.tire_radius)), Many(club, HEIGHTS)
    for number, heave in enumerate(HEIGHTS):
        pose = rigid.solve(model, heave, 0.0, steps=3)
        assert own.value("rear pinion angle since rest")[number] == pytest.approx(np.degrees(pose.pitch), abs=1e-7)
        assert own.value("rear sideways shift since rest")[number] == pytest.approx(pose.y, abs=1e-7)
        bars = rigid.moved(model, pose).bars
        lowest = min(float(place[2]) for bar in bars for place in (bar.first, bar.second)) - heave
        assert own.value("rear ground clearance")[number] == pytest.approx(lowest, abs=1e-7)
        along = np.subtract(bars[2].second, bars[2].first)
        assert own.value("rear upper link angle")[number] == pytest.approx(np.degrees(np.arctan2(along[2], along[0])), abs=1e-7)  # fmt: skip
        lean = np.subtract(bars[0].second, bars[0].first)
        tilt = np.degrees(np.arcsin(abs(lean[1]) / np.linalg.norm(lean)))
        assert own.value("rear left lower link tilt")[number] == pytest.approx(tilt, abs=1e-7)


def test_each_row_is_what_one_car_comes_to_in_the_corner(club, many):
    turns = (4.0, -4.0)
    corners = {(n, a): solve_corner(alone(club, n), a) for n in range(3) for a in turns}
    held(many, "roll in the corner", lambda n, a: abs(np.degrees(corners[n, a].roll)), turns)
    held(many, "rise of the body in the corner", lambda n, a: corners[n, a].heave, turns)
    held(
        many,
        "rear upper link force in the corner",
        lambda n, a: abs(corners[n, a].rod_forces("rear")["upper link"]),
        turns,
    )
    for end in ("rear", "front"):
        spread = f"{end} tire load spread in the corner"
        held(many, spread, lambda n, a, end=end: abs(np.subtract(*[getattr(getattr(corners[n, a], end), s) for s in ("left", "right")])), turns)  # fmt: skip
        held(many, f"{end} roll center height in the corner", lambda n, a, end=end: getattr(corners[n, a], end).roll_center_height, turns)  # fmt: skip
    out = np.asarray(many.value("rear steer in the corner"))
    for n, a in itertools.product(range(3), turns):  # nose left in a left turn steers into it
        at = corners[n, a].rear
        state = solve_travel(alone(club, n).rear, (at.left_travel + at.right_travel) / 2, -float(corners[n, a].roll))
        assert out[n, turns.index(a)] == pytest.approx(-np.degrees(state.yaw) * np.sign(a), rel=1e-7)
    ways = {4.0: "left", -4.0: "right"}
    held(many, CORNER_END, lambda n, a: corner_end(alone(club, n), ways[a]).acceleration / GRAVITY, turns)


def test_a_leaning_front_wheel_keeps_less_camber_than_the_body_rolls(many):
    roll, camber = (
        np.asarray(many.value(name)) for name in ("roll in the corner", "front outer wheel's camber in the corner")
    )
    assert np.all(camber > 0.5 * roll) and np.all(camber < 1.2 * roll)


@pytest.mark.parametrize(
    ("name", "quantity", "words"),
    [
        ("three_link", "front bump steer", r"no front axle; add a table \[front\]"),
        ("three_link", "roll in the corner", r"no front axle; add a table \[front\]"),
        ("three_link", "shaft length since rest", "propeller_shaft"),
        ("club_coupe", "rear spring motion ratio", r"add a table \[rear.coil\]"),
        ("club_coupe", "rear pinion joint angle", "propeller_shaft"),
        ("club_coupe", "corner end", CORNER_END),
    ],
)
def test_what_a_car_cannot_give_is_left_out_in_a_sentence_that_names_what_is_missing(name, quantity, words):
    car = load_car(DATA / f"{name}.toml")
    wanted = [Target(quantity, 0.0, 1.0), Target("rear roll steer", -0.05, 0.05)]
    found = search(car, [Bracket("rear.lower.chassis", holes=[(500, 420, z) for z in (150, 200)])], wanted)
    assert list(found.target_units) == ["rear roll steer"]
    (said,) = [sentence for sentence in found.sentences if sentence.startswith("Left out")]
    with pytest.raises(AssertionError, match=words):
        raise AssertionError(said)


def test_an_unweighed_car_without_springs_and_with_an_offset_upper_link_goes_through():
    car = load_car(DATA / "three_link.toml")
    bare = replace(car, weight=None, brake_front_share=None, rear_springs=None)
    bare = moved(bare, {"rear.upper.axle": (-50, 60, 470), "rear.upper.chassis": (400, 90, 450)})
    wanted = [
        Target("rear roll steer", -0.05, 0.05),
        Target("rear anti-squat", 60, 80),
        Target("rear upper link force", 0, 3000),
    ]
    found = search(bare, [Bracket("rear.lower.chassis", z=(220, 320))], wanted, (-30, 0, 30))
    assert found.choices[found.best].met
    assert sum("not been weighed" in sentence for sentence in found.sentences) == 2


def test_with_holes_alone_it_finds_what_trying_all_finds(club):
    holes = {
        "rear.lower.chassis": [(520, 450, z) for z in range(120, 220, 12)],
        "rear.locator.axle": [(-140, 480, z) for z in range(250, 380, 20)],
    }
    wanted = [
        Target("rear roll steer", -0.03, 0.03, weight=2.0),
        Target("rear roll center height", 240, 260),
        Target("rear ground clearance", 130, step=5, limit=True),
    ]
    found = search(club, [Bracket(place, holes=row) for place, row in holes.items()], wanted, (-20, 0, 20))
    truth = {}
    for picks in itertools.product(*holes.values()):
        car = moved(club, dict(zip(holes, picks, strict=True)))
        heights = [at_heave(car, heave) for heave in (-20.0, 0.0, 20.0)]
        each = [numbers(one, [t.quantity for t in wanted[:2]]) for one in heights]
        lows = [min(float(coordinates(p)[2]) for p in joints(one)) for one in heights]
        misses = [max(float(t.miss(one[t.quantity])) for one in each) for t in wanted[:2]] + [(130 - min(lows)) / 5]
        if misses[2] <= 0:
            truth[picks[0][2], picks[1][2]] = misses[0] * 2, misses[1]
    best = min(truth, key=lambda pick: max(max(part, 0) for part in truth[pick]))
    chosen = found.choices[found.best]
    assert (chosen.places["rear.lower.chassis.z"], chosen.places["rear.locator.axle.z"]) == best
    assert (2 * chosen.misses["rear roll steer"], chosen.misses["rear roll center height"]) == pytest.approx(
        truth[best]
    )
    assert len(found.tried["rear roll steer"]) == len(truth)
    for choice in found.choices:  # no other beats it in everything
        own = truth[choice.places["rear.lower.chassis.z"], choice.places["rear.locator.axle.z"]]
        mine = [max(part, 0.0) for part in own]
        assert not any(max(a, 0) < mine[0] - 0.01 and max(b, 0) < mine[1] - 0.01 for a, b in truth.values())


LOW, BAR = "rear.lower.chassis.z", "rear.locator.axle.z"
TRIED = [{LOW: float(low), BAR: float(bar)} for low in range(120, 220, 12) for bar in range(250, 380, 20)]


@pytest.mark.parametrize(
    ("bands", "met", "kept"),
    [
        ([(-0.2, 0.2), (180, 320), (20, 90)], True, True),  # many do it all
        ([(-0.01, 0.01), (100, 120), (95, 99)], False, True),  # none does
        ([(0.9, 1.0), (240, 260), (40, 80)], False, False),  # nor keeps the limit
    ],
)
def test_what_is_shown_of_all_that_was_tried(club, bands, met, kept):
    """Two rows of holes, every car by itself, and the choices looked for in plain loops."""
    names, weights = ("rear roll steer", "rear roll center height", "rear anti-squat"), (10.0, 2.0, 1.0)
    wanted = [Target(name, *band, weight=weight, limit=weight == 10) for name, band, weight in zip(names, bands, weights, strict=True)]  # fmt: skip
    rows = [Bracket("rear.lower.chassis.z", holes=range(120, 220, 12)), Bracket("rear.locator.axle.z", holes=range(250, 380, 20))]  # fmt: skip
    found = search(club, rows, wanted)
    values = [numbers(moved(club, at), names) for at in TRIED]
    steps = [[max(low - v[n], v[n] - high) / (high - low) * 2 for n, (low, high) in zip(names, bands, strict=True)] for v in values]  # fmt: skip
    lawful = [k for k, each in enumerate(steps) if each[0] <= 0]
    assert bool(lawful) == kept == (len(found.tried["rear roll steer"]) > 0)
    assert sorted(found.tried["rear anti-squat"]) == pytest.approx(sorted(values[k]["rear anti-squat"] for k in lawful))
    if not kept:
        nearest = min(each[0] for each in steps)
        lawful = [k for k, each in enumerate(steps) if each[0] <= nearest + 0.5]
    own = {k: [step * weight for step, weight in zip(steps[k], weights, strict=True)] for k in lawful}
    good = {k: each for k, each in own.items() if max(each) < 0.005}
    score = good or {k: [round(max(part, 0.0), 2) for part in each] for k, each in own.items()}
    front, seen = [], set()
    for k, each in score.items():
        beaten = any(
            all(a <= b for a, b in zip(other, each, strict=True)) and other != each for other in score.values()
        )
        if not beaten and tuple(each) not in seen:
            front.append(k)
        seen.add(tuple(each))
    assert bool(good) == met
    count = f"{len(good) or 'None'} of 63 choices tried meet every target; {len(front)} {'is' if len(front) == 1 else 'are'} beaten by no other."  # fmt: skip
    assert count in found.sentences
    assert ("No choice keeps every limit; those that come nearest are shown." in found.sentences) == (not kept)
    best = min(front, key=lambda k: max(score[k]) + 1e-3 * sum(min(max(part, -12), 12) for part in score[k]))
    if met:
        shown = {best, *(min(front, key=lambda k, n=n: score[k][n]) for n in range(3))}
    else:  # one of them taken ten times, or a tenth, as seriously
        ways = [[1.0, 1.0, 1.0], *([by if n == m else 1.0 for n in range(3)] for by in (10.0, 0.1) for m in range(3))]
        shown = {best, *(min(front, key=lambda k, w=w: sum((a * b) ** 2 for a, b in zip(score[k], w, strict=True))) for w in ways)}  # fmt: skip
    told = [TRIED.index(dict(choice.places)) for choice in found.choices]
    assert set(told) == shown and len(told) == len(shown)
    assert told[found.best] == best
    clipped = [[min(max(part, -3), 10) for part in score[k]] for k in told]
    widest = max(range(3), key=lambda n: max(each[n] for each in clipped) - min(each[n] for each in clipped))
    assert [each[widest] for each in clipped] == sorted(each[widest] for each in clipped)
    for choice, k in zip(found.choices, told, strict=True):
        assert choice.met == (max(steps[k]) <= 0)
        assert [choice.values[name] for name in names] == pytest.approx([values[k][name] for name in names])
        assert [choice.misses[name] for name in names] == pytest.approx(steps[k])
    spread = np.clip(np.array([[choice.misses[name] for name in names] for choice in found.choices]), -3, 10)
    against = np.cov(spread.T, bias=True)
    pairs = {(names[a], names[b]): against[a, b] for a, b in ((0, 1), (0, 2), (1, 2))}
    if len(told) > 1 and min(pairs.values()) < -1e-9:
        assert set(found.dearest) == set(min(pairs, key=pairs.get))
    few = search(club, rows, wanted, most=1)
    assert len(few.choices) == 1
    assert len(few.table().head) == 3 and few.table().head[2] == "choice 1, best"


def joints(car):
    links = [*car.rear.lower, *car.rear.upper]
    return [p for link in links for p in (link.axle, link.chassis)] + [car.rear.locator.axle, car.rear.locator.chassis]


BRACKETS = [
    Bracket("rear.lower.chassis", z=(110, 210)), Bracket("rear.upper.chassis", x=(240, 320), z=(320, 420)), Bracket("rear.locator.axle", z=(240, 380)),
]  # fmt: skip
WANTED = [
    Target("rear roll steer", -0.02, 0.02), Target("rear anti-squat", 55, 70), Target("rear roll center height", 230, 250),
    Target("rear side-view instant center x", 1200, 1800), Target("rear upper link force", high=3000, step=200),
]  # fmt: skip


def test_it_comes_as_near_as_a_general_optimizer(club):
    """SciPy's differential evolution, one car at a time, on the same worst miss."""
    found = search(club, BRACKETS, WANTED, (-20, 0, 20))
    names = ["rear.lower.chassis.z", "rear.upper.chassis.x", "rear.upper.chassis.z", "rear.locator.axle.z"]

    def worst(u):
        cars = moved(club, dict(zip(names, u[..., None], strict=True)))
        many = Many(cars, np.array([-20.0, 0.0, 20.0]))
        each = [np.broadcast_to(t.miss(many.value(t.quantity)), (u.shape[1], 3)).max(axis=1) for t in WANTED]
        return np.maximum(np.max(each, axis=0), 0)

    limits = [(110, 210), (240, 320), (320, 420), (240, 380)]
    other = differential_evolution(
        worst, limits, vectorized=True, seed=3, maxiter=40, popsize=12, updating="deferred", polish=False
    )
    mine = max(0.0, *found.choices[found.best].misses.values())
    assert mine <= other.fun + 0.1


def test_the_same_search_in_inches_and_in_mm(club):
    """The car file's unit decides what numbers mean; here whole inches, so that both are the same places."""
    inches = replace(club, units="in")
    rows = {"z": (4.75, 8.0)}, {"z": (4.75 * 25.4, 8 * 25.4)}
    wanted = [Target("rear roll steer", -0.02, 0.02)], [Target("rear roll steer", -0.02, 0.02)]
    wanted[0].append(Target("rear roll center height", 9.5, 10.5))
    wanted[1].append(Target("rear roll center height", 9.5 * 25.4, 10.5 * 25.4))
    row = [(-140 / 25.4, 480 / 25.4, z) for z in (10, 11, 12, 13)]
    holes = row, [tuple(25.4 * part for part in hole) for hole in row]
    found = [
        search(car, [Bracket("rear.lower.chassis", **move), Bracket("rear.locator.axle", holes=hole)], targets, heights)
        for car, move, targets, hole, heights in zip((inches, club), rows, wanted, holes, ((-1, 0, 1), (-25.4, 0, 25.4)), strict=True)
    ]  # fmt: skip
    own, metric = (each.choices[each.best] for each in found)
    assert found[0].units == "in" and found[0].target_units["rear roll center height"] == "in"
    assert own.places["rear.locator.axle.z"] == pytest.approx(metric.places["rear.locator.axle.z"] / 25.4)
    assert own.places["rear.lower.chassis.z"] == pytest.approx(metric.places["rear.lower.chassis.z"] / 25.4, abs=0.03)
    assert own.values["rear roll center height"] == pytest.approx(
        metric.values["rear roll center height"] / 25.4, abs=0.01
    )
    assert own.places["rear.lower.chassis.z"] * 32 == pytest.approx(round(own.places["rear.lower.chassis.z"] * 32))
    assert metric.places["rear.lower.chassis.z"] * 2 == pytest.approx(round(metric.places["rear.lower.chassis.z"] * 2))
    assert dimensions(own.car)["rear.lower.chassis.z"] == pytest.approx(own.places["rear.lower.chassis.z"] * 25.4)


def test_sides_that_differ_move_by_the_same(club):
    uneven = moved(club, {"rear.lower.right.chassis.z": 130.0, "rear.lower.right.chassis.y": -455.0})
    bracket = Bracket("rear.lower.chassis", holes=[(520, 450, 124), (520, 440, 154)])
    found = search(uneven, [bracket], [Target("rear ground clearance", 150, step=1)])
    now = dimensions(found.choices[found.best].car)
    assert found.before.places["rear.lower.chassis.z"] == 124.0
    assert (now["rear.lower.left.chassis.z"], now["rear.lower.right.chassis.z"]) == (154.0, 160.0)
    assert (now["rear.lower.left.chassis.y"], now["rear.lower.right.chassis.y"]) == (440.0, -445.0)
    one = search(
        uneven, [Bracket("rear.lower.left.chassis", z=(120, 160))], [Target("rear ground clearance", 128, step=1)]
    )
    assert dimensions(one.choices[one.best].car)["rear.lower.right.chassis.z"] == 130.0


def test_both_ends_of_the_travel_are_a_targets_own_heights(club):
    ends = Target("front toe-in since rest", -0.02, 0.02, heights=(-40.0, 40.0))
    found = search(club, [Bracket("front.tie_rod.chassis", z=(200, 260))], [ends])
    now = found.choices[found.best].car
    toe = np.degrees(solve_travel(now.front, np.array([-40.0, 40.0])).toe_in)
    assert np.abs(toe).max() < np.degrees(np.abs(solve_travel(club.front, np.array([-40.0, 40.0])).toe_in)).max()
    assert abs(found.choices[found.best].values["front toe-in since rest"]) == pytest.approx(
        np.abs(toe).max(), rel=1e-6
    )


def test_steps_downhill_end_where_scipys_do(club):
    """Two targets at three heights, which cannot all be met; from three starts at once."""
    brackets = [Bracket("rear.lower.chassis", z=(110, 300)), Bracket("rear.locator.axle", z=(250, 420))]
    wanted = [Target("rear roll center height", 380, 382, step=5.0), Target("rear roll steer", -0.02, 0.0, step=0.01)]
    problem = Problem(club, brackets, wanted, np.array([-20.0, 0.0, 20.0]), Conditions(), "mm")
    starts = np.array([[0.2, 0.3], [0.9, 0.9], [0.5, 0.1]])
    for start, found in zip(starts, problem.refine(starts, np.ones((3, 2))), strict=True):

        def missed(place):
            return problem.residual(place[None], np.ones((1, 2)))[0]

        truth = least_squares(missed, start, bounds=(0, 1), diff_step=1e-4)
        assert truth.cost > 1 and found == pytest.approx(truth.x, abs=1e-4)


def test_it_says_which_target_prevents_which(club):
    """Level lower links for no roll steer, and their joints high over the ground: the bracket on the axle stays, so one prevents the other."""
    wanted = [
        Target("rear roll steer", -0.02, 0.02),
        Target("rear ground clearance", 200, step=5),
        Target("rear roll center height", 300, 440),
    ]
    found = search(club, [Bracket("rear.lower.chassis", z=(110, 300))], wanted)
    text = " ".join(found.sentences)
    assert "Rear ground clearance: these brackets cannot give it" in text  # the joint on the axle is at 185
    free = search(club, [Bracket("rear.lower.chassis", z=(110, 300)), Bracket("rear.lower.axle", z=(150, 200))], [
        Target("rear roll steer", -0.02, 0.02), Target("rear left lower link angle", -8, -6), Target("rear roll center height", 300, 440)])  # fmt: skip
    assert "Rear left lower link angle prevents rear roll steer" in " ".join(free.sentences)
    assert "no other target alone" not in " ".join(free.sentences)
    assert set(free.dearest) == {"rear roll steer", "rear left lower link angle"}
    units = dict(tuple(free.target_units.items())[:2])  # one choice: nothing costs anything, and two names are told
    assert set(replace(free, choices=free.choices[:1], target_units=units).dearest) == set(units)
    rows = {row[0]: row for row in free.table().rows}
    assert rows["rear roll steer [deg/deg]"][1].startswith("! ")
    assert free.table().head[1] == "as it is" and free.table().rows[0][0] == "rear lower links, chassis, z"


def test_a_bar_and_springs_are_chosen_beside_brackets(club):
    wanted = [Target("roll gradient", high=4.5, step=0.2), Target("front part of load transfer", 52, 56)]
    found = search(
        club,
        [
            Bracket("front_springs.anti_roll_rate", value=(50, 400)),
            Bracket("rear_springs.rate", holes=(26, 30, 34, 38)),
        ],
        wanted,
    )
    best = found.choices[found.best]
    assert best.met and best.places["rear_springs.rate"] in (26, 30, 34, 38)
    assert numbers(best.car)["roll gradient"] == pytest.approx(best.values["roll gradient"])


def test_a_car_that_its_springs_cannot_hold_does_not_spoil_the_others(club):
    wanted = [Target("roll in the corner", 0, 4.0), Target("rear roll steer", -0.3, 0.3)]
    found = search(
        club,
        [Bracket("front_springs.rate", holes=(0.5, 2, 20, 40)), Bracket("rear_springs.rate", holes=(0.5, 30, 50))],
        wanted,
    )
    assert found.choices[found.best].met


@pytest.mark.parametrize(
    ("brackets", "wanted", "words"),
    [
        ([], WANTED, "needs a bracket"),
        ([Bracket("rear.lower.chassis")], WANTED, "give holes, or"),
        ([Bracket("rear.lower.chassis", z=(200, 100))], WANTED, "low below high"),
        ([Bracket("rear.lower.chassis", z=(200, 200))], WANTED, "low below high"),
        ([Bracket("rear.lower.chassis", z=(100, 150, 200))], WANTED, "low below high"),
        ([Bracket("rear.lover.chassis", z=(100, 200))], WANTED, "did you mean lower"),
        (BRACKETS, [Target("rear roll stear", 0, 1)], "no quantity called rear roll stear"),
        (BRACKETS, [Target("rear roll steer", 0)], "a step"),
        (BRACKETS, [Target("rear pinion joint angle", 0, 1), Target("shaft length since rest", 0, 1)], "PropellerShaft|propeller"),
    ],
)  # fmt: skip
def test_a_search_that_cannot_be_made_is_refused(brackets, wanted, words):
    with pytest.raises(SusgeoError, match=words):
        search(load_car(DATA / "three_link.toml"), brackets, wanted)
