"""The bench without a browser: what moves, what is shown, and what remains where no slider runs."""

import asyncio
import gc
import html
import re
import threading

import ipywidgets
import nbformat
import numpy as np
import pytest
from matplotlib.artist import Artist
from nbclient import NotebookClient
from nbconvert import HTMLExporter

from susgeo import Car, Link, LinkageError, LiveAxle, PanhardBar, Point, SusgeoError, dimension, load_car, moved, pair
from susgeo.bench import Slider, bench, heave, roll, shown
from susgeo.draw import lettering
from susgeo.travel.live import solve_travel

HEIGHT = Slider("Upper link, axle end, height", "upper.axle.z", 410, 530)
BAR = Slider("Panhard bar, chassis end, height", "locator.chassis.z", 250, 350)


def axle(upper_z=470.0):
    return LiveAxle(
        lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")),
        upper=(Link(Point(-50, 0, upper_z), Point(400, 0, 450), "upper link"),),
        locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
    )


def rows(made):
    """Return the table of numbers as a browser would read it."""
    found = {}
    for row in re.findall(r"<tr><th scope=\"row\".*?</tr>", made.view.value):
        name, *cells = re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)
        found[html.unescape(name)] = [html.unescape(cell) for cell in cells]
    return found


def alt(made):
    return html.unescape(re.search(r'alt="([^"]*)"', made.view.value)[1])


def instant_center(upper_z):
    """The meet of the line through (0, 240), (600, 290) and the one through (-50, upper_z), (400, 450)."""
    slopes = 50 / 600, (450 - upper_z) / 450
    x = (upper_z + 50 * slopes[1] - 240) / (slopes[0] - slopes[1])
    return x, 240 + slopes[0] * x


def roll_center(bar_z):
    """The join of the bar's crossing of y = 0 (its ends: 480, -470) with (3000, 490), read at x = 0."""
    crossing = 300 + (bar_z - 300) * 480 / 950
    return crossing + (490 - crossing) * 120 / 3120


def test_numbers_and_drawing_follow_the_sliders():
    numbers = ["side-view instant center x", "side-view instant center z", "roll center height"]
    made = bench(axle(), [HEIGHT, BAR], numbers=numbers)
    for upper_z, bar_z in [(470, 300), (530, 300), (530, 350), (440, 260)]:
        made.controls[0].value, made.controls[1].value = upper_z, bar_z
        x, z = instant_center(upper_z)
        found = rows(made)
        assert found["side-view instant center x [mm]"] == [f"{x:.1f}", "1782.6"]  # now, at rest
        assert found["side-view instant center z [mm]"] == [f"{z:.1f}", "388.6"]
        assert found["roll center height [mm]"] == [f"{roll_center(bar_z):.1f}", "307.3"]
        assert f"meet {x / 1000:.2f} m ahead of the wheels" in alt(made)
        assert made.thing.upper[0].axle.z == upper_z


def test_reset_puts_everything_back_and_draws_once(monkeypatch):
    made = bench(axle(), [HEIGHT, BAR], numbers=["roll center height"])
    start = made.view.value
    made.controls[0].value, made.controls[1].value = 500, 340
    assert made.view.value != start
    drawn = []
    monkeypatch.setattr(made.picture, "frame", lambda frame=made.picture.frame: drawn.append(1) or frame())
    made.reset_button.click()
    assert made.values == [470, 300]
    assert rows(made)["roll center height [mm]"] == ["307.3", "307.3"]
    assert len(drawn) == 1


def test_at_rest_the_picture_is_the_first_one_though_a_late_move_comes_after_reset():
    """Words that keep their places while a drawing moves stood elsewhere then, with the numbers at rest."""
    joints = Slider("Ball joint, height", "lower.ball_joint.z", 150, 200)
    made = bench(load_car("data/club_coupe.toml").front, [joints], views=("front",), show=("roll center",))
    first = made.view.value
    for late in (150, 200):
        made.reset_button.click()
        made.controls[0].value = late
        assert made.view.value != first
        made.controls[0].value = 190
        assert made.view.value == first


def test_a_position_without_an_answer_is_said_in_one_sentence_and_the_last_picture_stays():
    def broken(thing, value):
        if value > 5:
            raise LinkageError("The bar & the links act through the same point.")
        if value < -5:
            raise ZeroDivisionError("float division by zero")
        return thing

    made = bench(axle(), [Slider("Trouble", broken, -10, 10)], numbers=["roll center height"])
    made.controls[0].value = 5
    good = made.view.value
    made.controls[0].value = 8
    assert made.view.value == good
    assert "The bar &amp; the links act through the same point. The last position" in made.message.value
    made.controls[0].value = -8
    assert "cannot be drawn (float division by zero)" in made.message.value
    assert "Traceback" not in made.message.value
    made.controls[0].value = 0
    assert made.message.value == ""


def test_a_range_with_positions_that_cannot_be_drawn_leaves_those_frames_out():
    thing = moved(axle(), {"upper.axle.x": 400.0})
    made = bench(thing, [Slider("Height", "upper.axle.z", 440, 460)], numbers=["side-view instant center x"])
    bundle = made._repr_mimebundle_()
    assert [f"{value} mm:" in bundle["text/plain"] for value in (440, 450, 460)] == [True, False, True]
    assert bundle["text/plain"].split("\n")[4].split() == ["450", "none"]


def test_links_that_become_undefined_are_named():
    # At 450 both ends of this upper link are at one place.
    thing = moved(axle(), {"upper.axle.x": 400.0})
    made = bench(thing, [Slider("Height", "upper.axle.z", 440, 470)], show=["instant center"])
    made.controls[0].value = 450
    assert "the upper link has no length" in made.message.value


def test_parallel_links_have_words_for_numbers():
    made = bench(axle(), [Slider("Height", "upper.axle.z", 400, 530, step=0.5)], numbers=["side-view instant center x"])
    made.controls[0].value = 412.5  # 450 - 450 * 50 / 600
    assert rows(made)["side-view instant center x [mm]"][0] == "at infinity"
    assert "parallel and meet at infinity" in alt(made)


def test_moving_makes_nothing_new():
    made = bench(axle(), [HEIGHT], numbers=["roll center height"], views=("side", "plan"))
    made.controls[0].value = 420
    made.controls[0].value = 520

    def count():
        gc.collect()
        things = gc.get_objects()
        return [sum(isinstance(thing, kind) for thing in things) for kind in (Artist, ipywidgets.Widget)]

    before = count()
    for k in range(10):
        made.controls[0].value = 420 + 10 * k
    assert count() == before


def test_a_function_moves_anything_and_a_button_plays_it():
    def lifted(thing, value):
        places = ("lower.axle.z", "upper.axle.z", "locator.axle.z")
        heights = (240, 470, 300)
        return moved(thing, {place: height + value for place, height in zip(places, heights, strict=True)})

    made = bench(axle(), [Slider("Heave of the axle", lifted, -50, 50, play=True)], numbers=["roll center height"])
    assert made.values == [0]
    assert made.rows[0].play_button.description == "Play"
    made.controls[0].value = 40
    assert made.thing.lower[1].axle.z == 280


def test_play_runs_through_the_range_and_ends_where_it_began(monkeypatch):
    monkeypatch.setattr("susgeo.bench.controls.INTERVAL", 0)
    made = bench(axle(), [Slider("Height", "upper.axle.z", 410, 530, play=True)])
    made.controls[0].value = 437.5
    seen = []
    made.controls[0].observe(lambda change: seen.append(change["new"]), "value")
    asyncio.run(made.rows[0].play())
    assert seen[-1] == made.values[0] == 437.5
    assert min(seen) < 413 and max(seen) > 527 and seen.index(max(seen)) < seen.index(min(seen))


@pytest.mark.parametrize("end", ["reset", "press", "hand"])
def test_play_is_stopped_by_reset_by_its_button_and_by_the_hand(end):
    made = bench(axle(), [Slider("Height", "upper.axle.z", 410, 530, play=True)])
    row = made.rows[0]

    async def run():
        row.play_button.click()
        await asyncio.sleep(0.1)
        assert row.play_button.description == "Stop"
        if end == "reset":
            made.reset_button.click()
        elif end == "press":
            row.play_button.click()
        else:
            made.controls[0].value = 420
        stopped = made.values[0]
        await asyncio.sleep(0.2)
        assert made.values[0] == stopped and row.play_button.description == "Play"
        return stopped

    assert asyncio.run(run()) == {"reset": 470, "hand": 420}.get(end, made.values[0])


def test_a_reset_in_another_thread_of_the_kernel_waits_for_the_frame_that_is_being_drawn():
    begun, go, order = threading.Event(), threading.Event(), []

    def slow(thing, value):
        order.append(value)
        if value == 5:
            begun.set()
            go.wait(20)
        order.append(value)
        return thing

    made = bench(axle(), [Slider("Slow", slow, 0, 9)])
    first = made.view.value
    frame = threading.Thread(target=lambda: setattr(made.controls[0], "value", 5))
    reset = threading.Thread(target=made.reset)
    frame.start()
    assert begun.wait(20)
    del order[:-1]  # what was drawn before it
    reset.start()
    reset.join(0.5)
    go.set()
    frame.join(20)
    reset.join(20)
    assert order == [5, 5, 0, 0]
    assert made.values == [0] and made.view.value == first


@pytest.mark.parametrize(
    ("typed", "value"),
    [("437.5", 437.5), ("437,5", 437.5), ("17.5 in", 444.5), ('17"', 431.8), ("44 cm", 440), (" 450 mm ", 450)],
)
def test_an_exact_value_is_taken_as_typed(typed, value):
    made = bench(axle(), [HEIGHT], numbers=["side-view instant center x"])
    made.rows[0].field.value = typed
    assert made.values == [pytest.approx(value)]
    assert made.rows[0].field.value == f"{value:g}"
    assert rows(made)["side-view instant center x [mm]"][0] == f"{instant_center(value)[0]:.1f}"


@pytest.mark.parametrize(
    ("typed", "sentence"), [("high", "no number in mm"), ("5 deg", "no number in mm"), ("600", "from 410 to 530 mm")]
)
def test_an_exact_value_that_cannot_be_taken_says_why_and_nothing_moves(typed, sentence):
    made = bench(axle(), [HEIGHT])
    made.rows[0].field.value = typed
    assert made.values == [470] and made.rows[0].field.value == "470"
    assert sentence in html.unescape(made.message.value)
    made.rows[0].field.value = "480"
    assert made.message.value == ""


def test_a_typed_value_stands_though_the_pages_slider_rests_on_the_next_step():
    made = bench(axle(), [HEIGHT], numbers=["side-view instant center x"])
    made.rows[0].field.value = "437,5"
    for sent in (437.5, 438, 437.5, 438):  # what the page sends back, perhaps more than once
        made.controls[0].value = sent
    assert made.values == [437.5] and made.rows[0].field.value == "437.5"
    assert rows(made)["side-view instant center x [mm]"][0] == f"{instant_center(437.5)[0]:.1f}"
    made.rows[0].field.value = "438"
    assert rows(made)["side-view instant center x [mm]"][0] == f"{instant_center(438)[0]:.1f}"
    made.controls[0].value = 437  # an arrow key
    assert made.values == [437] and made.rows[0].field.value == "437"
    made.rows[0].field.value = "470.2"
    made.controls[0].value = 470
    made.reset_button.click()
    assert made.values == [470]


def test_a_sentence_beside_the_numbers_says_what_they_mean():
    """By hand: the turn in radians is the lift over the distance, so a degree comes after x_IC times pi/180."""
    made = bench(axle(), [HEIGHT], numbers=["side-view instant center x"])
    for upper_z in (470, 440, 500):
        made.controls[0].value = upper_z
        x = instant_center(upper_z)[0]
        assert made.sentence == (
            f"The lines meet {x / 1000:.1f} m ahead: one degree of pinion for every {x * np.pi / 180:.0f} mm."
        )
        assert made.view.value.index(made.sentence) < made.view.value.index("<img")
    made = bench(axle(), [HEIGHT], says=lambda thing: f"At {thing.upper[0].axle.z:g}.")
    made.controls[0].value = 411
    assert made.sentence == "At 411."


def test_words_stay_beside_their_places_while_a_slider_moves():
    """Without the memory of the last drawing names hop by 78 pixels here."""
    width = Slider("Lower links, chassis end, half width", "lower.chassis.y", 300, 480)
    made = bench(axle(), [width], views=("plan", "side"), show=["convergence"], numbers=["roll center height"])
    made.controls[0].value = 300
    hops = []
    for half_width in range(302, 420, 2):  # words that change, as where a point comes onto the paper, are other words
        before = {(name, look[2]): look[1][0] for name, look in made.picture._shown.items() if look[2]}
        made.controls[0].value = half_width
        after = {(name, look[2]): look[1][0] for name, look in made.picture._shown.items() if look[2]}
        hops += [np.hypot(*np.subtract(after[name], before[name])) for name in after if name in before]
    assert len(hops) > 100 and max(hops) < 40  # pixels


def test_words_that_all_keep_their_places_stand_where_choosing_in_turn_puts_them(monkeypatch):
    width = Slider("Lower links, chassis end, half width", "lower.chassis.y", 300, 480)
    both = [bench(axle(), [width], views=("plan", "side"), show=["convergence"]) for _ in range(2)]
    at_once, kept = lettering._all_free, []
    for half_width in range(300, 420, 6):
        monkeypatch.setattr(lettering, "_all_free", lambda *all: kept.append(at_once(*all)) or kept[-1])
        both[0].controls[0].value = half_width
        monkeypatch.setattr(lettering, "_all_free", lambda *_: None)
        both[1].controls[0].value = half_width
        assert both[0].view.value == both[1].view.value
    assert 10 < sum(one is not None for one in kept) < len(kept)  # both happen


def test_every_position_is_reached_from_rest_not_from_the_last_one():
    def raised(thing, value):
        return moved(thing, {"upper.axle.z": dimension(thing, "upper.axle.z") + value})

    made = bench(axle(), [Slider("Upper link raised", raised, -40, 40)])
    made.controls[0].value = 10
    made.controls[0].value = 20
    assert made.thing.upper[0].axle.z == 490


def test_heave_and_roll_are_solved_and_add_up():
    made = bench(solve_travel(axle(), 0.0, 0.0), [heave(), roll()], views=("front",), numbers=["roll center height"])
    made.controls[1].value = 4
    made.controls[0].value = -40
    state = made.thing
    assert (state.heave, state.roll) == (-40, pytest.approx(np.radians(4)))
    # Whatever the position, every rod keeps its length (rods of the file: by Pythagoras).
    for moving, still in zip((*state.moved.lower, *state.moved.upper), (*axle().lower, *axle().upper), strict=True):
        a, b = still.axle, still.chassis
        assert moving.length == pytest.approx(np.hypot(np.hypot(b.x - a.x, b.y - a.y), b.z - a.z), abs=1e-6)
    assert rows(made)["roll center height [mm]"] == [f"{state.moved.roll_center_height:.1f}", "307.3"]
    assert "raised by -40.0 mm and rolled by 4.00 deg" in alt(made)
    assert [still.alt.count("Front view") for _, still, _ in made.film()] == [3, 3]


def test_numbers_of_ones_own_and_of_a_car_that_lacks_them():
    numbers = {"upper link length [mm]": lambda thing: thing.upper[0].length, "bar angle [deg]": lambda thing: 0.0}
    made = bench(axle(), [HEIGHT], numbers=numbers)
    made.controls[0].value = 500
    assert rows(made)["upper link length [mm]"][0] == f"{np.hypot(450, 50):.1f}"
    assert rows(made)["bar angle [deg]"][0] == "0.00"
    made = bench(axle(), [HEIGHT], numbers=["upper link convergence x"])
    assert rows(made)["upper link convergence x [mm]"] == ["none", "none"]


def test_numbers_may_be_named_for_a_whole_car():
    made = bench(axle(), [HEIGHT], numbers=["rear roll center height"])
    assert rows(made) == {"rear roll center height [mm]": ["307.3", "307.3"]}
    take = made.numbers["rear roll center height", "mm"]
    assert take(Car("club coupe", 2700.0, rear=axle())) == pytest.approx(roll_center(300))


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: bench(axle(), []), "at least one slider"),
        (
            lambda: bench(axle(), [HEIGHT], numbers=["roll centre"]),
            "no quantity 'roll centre'; the nearest are roll moment arm, roll center height, ",
        ),
        (lambda: bench(axle(), [Slider("x", "upper.axl.z", 0, 1)]), "did you mean axle"),
    ],
)
def test_a_bench_that_cannot_be_made_says_why(make, sentence):
    with pytest.raises(SusgeoError, match=sentence):
        make()


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (307.3077, "mm", "307.3"), (0.04, "mm", "0.0"), (-0.04, "mm", "0.0"), (-0.06, "mm", "-0.1"),
        (1.2345, "deg", "1.23"), (54.96, "%", "55.0"), (float("-inf"), "mm", "at infinity, behind"),
        (3e12, "mm", "at infinity"), (None, "deg", "none"), (1000.0, "mm", "1000.0"),
    ],
)  # fmt: skip
def test_digits_are_honest(value, unit, text):
    assert shown(value, unit) == text


# Where no slider runs


def test_a_saved_bench_shows_film_strip_and_table():
    made = bench(axle(), [HEIGHT, BAR], numbers=["side-view instant center x", "roll center height"])
    bundle = made._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    pictures = re.findall(r'<img [^>]*alt="([^"]+)"', bundle["text/html"])
    assert len(pictures) == 2  # one strip for each slider
    assert [f"{value} mm:" in html.unescape(pictures[0]) for value in (410, 470, 530)] == [True] * 3
    table = bundle["text/plain"].split("\n")[2:7]
    assert [line.split()[0] for line in table] == ["410", "440", "470", "500", "530"]
    for line in table:
        x, _ = instant_center(float(line.split()[0]))
        assert line.split()[1:] == [f"{x:.1f}", "307.3"]
    again = bench(axle(), [HEIGHT, BAR], numbers=["side-view instant center x", "roll center height"])
    made.controls[0].value = 520  # what was moved since does not change what is saved
    assert made._repr_mimebundle_()["text/plain"] == again._repr_mimebundle_()["text/plain"]


def test_a_bench_without_numbers_has_no_table():
    """A column of the slider's places with nothing beside it says nothing."""
    bundle = bench(axle(), [HEIGHT], numbers={})._repr_mimebundle_()
    assert "<table" not in bundle["text/html"] and "<img" in bundle["text/html"]
    assert "440" not in bundle["text/plain"] and "470 mm:" in bundle["text/plain"]  # the alt text's frames alone


def test_a_notebook_run_without_a_page_keeps_the_picture_and_its_alt_text_in_static_html():
    source = """
        from susgeo import Link, LiveAxle, PanhardBar, Point, pair
        from susgeo.bench import Slider, bench
        axle = LiveAxle(
            lower=pair(Link(Point(0, 500, 240), Point(600, 400, 290), "left lower link")),
            upper=(Link(Point(-50, 0, 470), Point(400, 0, 450), "upper link"),),
            locator=PanhardBar(Point(-120, 480, 300), Point(-120, -470, 300)),
        )
        bench(axle, [Slider("Height", "upper.axle.z", 410, 530)], numbers=["roll center height"])
    """
    cell = nbformat.v4.new_code_cell("\n".join(line[8:] for line in source.split("\n")))
    notebook = nbformat.v4.new_notebook(cells=[cell])
    NotebookClient(notebook, kernel_name="python3", store_widget_state=False, timeout=60).execute()
    page, _ = HTMLExporter().from_notebook_node(notebook)
    alts = re.findall(r'<img [^>]*alt="([^"]+)"', page)
    assert len(alts) == 1
    assert "meet 1.78 m ahead of the wheels" in alts[0]
    assert "307.3" in page
