"""Random plausible axles as plain data, and what the tests make of them: a Mechanism, or a car file's text."""

import numpy as np

from .mechanism import Mechanism

KINDS = (
    "three links and a bar",
    "three unequal links and a bar",
    "converging upper links",
    "converging lower links",
    "unequal converging links",
    "A-frame",
    "Watt on axle",
    "Watt on chassis",
    "unequal links and a Watt",
    "Mumford",
)
SYMMETRIC = tuple(kind for kind in KINDS if "unequal" not in kind)


def mirrored(link):
    return tuple((x, -y, z) for x, y, z in link)


def plausible(kind, seed):
    """Return {"lower": links, "upper": links, "locator": (type, fields) or None}; a link is (axle end, body end)."""
    random = np.random.default_rng([KINDS.index(kind), seed])

    def near(*place, by=(40, 40, 30)):
        """A point near another; one in the center plane stays there."""
        return tuple(
            float(np.round(v + random.uniform(-b, b), 1)) if axis != 1 or v else 0.0
            for axis, (v, b) in enumerate(zip(place, by, strict=True))
        )

    def pair(axle, chassis):
        left = near(*axle), near(*chassis)
        if "unequal" in kind:
            return left, (near(axle[0], -axle[1], axle[2]), near(chassis[0], -chassis[1], chassis[2]))
        return left, mirrored(left)

    splayed = (-40, 130, 450), (340, 420, 425)
    lower, locator = pair((5, 500, 240), (600, 430, 275)), None
    upper: tuple = ((near(-50, 0, 470), near(400, 0, 450)),)
    if kind == "three unequal links and a bar":
        upper = ((near(-50, 70, 470), near(400, 60, 450)),)
    if "converging" in kind:
        upper = pair(*splayed)
    if kind == "converging lower links":
        lower, upper = pair((0, 150, 235), (450, 480, 285)), pair((-40, 450, 470), (380, 440, 460))
    if kind == "A-frame":
        joint = near(-30, 0, 430)
        left = joint, near(350, 380, 420)
        upper = left, mirrored(left)
    if "bar" in kind:
        x = random.uniform(-180, 150)
        locator = "panhard_bar", {"axle": near(x, 480, 300), "chassis": near(x, -450, 310)}
    if "Watt" in kind:
        on, x = ("chassis" if kind == "Watt on chassis" else "axle"), random.uniform(-200, 150)
        pivot = near(x, 5, 320, by=(0, 30, 30))
        fields = {"pivot_on": on, "pivot": pivot}
        for side, sign in (("left", 1), ("right", -1)):
            crank = near(x, pivot[1] + 10, pivot[2] + sign * 75, by=(10, 25, 15))
            fields |= {f"{side}_crank": crank, f"{side}_end": near(x, sign * 500, crank[2], by=(30, 60, 25))}
        locator = "watts_linkage", fields
    if kind == "Mumford":
        fields = {}
        for side, sign in (("left", 1), ("right", -1)):
            pivot = near(-130, sign * 150, 270, by=(5, 15, 10))
            fields |= {
                f"{side}_pivot": pivot,
                f"{side}_crank": near(-130, pivot[1], pivot[2] + 75, by=(10, 15, 10)),
                f"{side}_end": near(-130, sign * 600, 310, by=(20, 30, 20)),
                f"{side}_center": near(-130, pivot[1], pivot[2] + sign * 55, by=(10, 10, 8)),
            }
        locator = "mumford_linkage", fields
    return {"lower": lower, "upper": upper, "locator": locator}


def mechanism(axle, height=310.0):
    """Return the axle as bars and cranks, in the order lower links, upper links, locator."""
    made = Mechanism(middle=(0.0, 0.0, height))
    for link in (*axle["lower"], *axle["upper"]):
        made = made.rod(*link)
    if axle["locator"] is None:
        return made
    kind, at = axle["locator"]
    if kind == "panhard_bar":
        return made.rod(at["axle"], at["chassis"])
    if kind == "watts_linkage":
        on = {"axle": "axle", "chassis": "body"}[at["pivot_on"]]
        rods = ((at[f"{side}_crank"], at[f"{side}_end"]) for side in ("left", "right"))
        return made.watt(on, at["pivot"], *rods, pin=at.get("pin", (1, 0, 0)))
    return made.mumford(
        *(tuple(at[f"{side}_{part}"] for part in ("pivot", "crank", "end", "center")) for side in ("left", "right"))
    )


def car_file(axle, height=310.0):
    """Return the axle as the text of a car file."""

    def table(name, fields):
        lines = (f'{key} = "{v}"' if isinstance(v, str) else f"{key} = {list(v)}" for key, v in fields.items())
        return "\n".join((f"[{name}]", *lines))

    tables = [f'[rear]\ntype = "live axle"\ntrack = 1400\ntire_radius = {height}']
    for name in ("lower", "upper"):
        links = [dict(zip(("axle", "chassis"), link, strict=True)) for link in axle[name]]
        if len(links) == 1:
            tables.append(table(f"rear.{name}_link", links[0]))
        elif axle[name][0][0] == axle[name][1][0]:
            tables.append(table("rear.a_frame", links[0]))
        elif axle[name][1] == mirrored(axle[name][0]):
            tables.append(table(f"rear.{name}_links", links[0]))
        else:
            tables += [table(f"rear.{name}_links.{s}", k) for s, k in zip(("left", "right"), links, strict=True)]
    if axle["locator"]:
        tables.append(table(f"rear.{axle['locator'][0]}", axle["locator"][1]))
    return "\n\n".join(('title = "made by a test"\nunits = "mm"\nwheelbase = 2700', *tables))
