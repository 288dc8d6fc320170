"""The invented cast of the demo. No one here is a person; every page made from them says so."""

from __future__ import annotations

from dataclasses import dataclass

from casebook.demo.swimmer import Swimmer


@dataclass(frozen=True, slots=True)
class Role:
    """One invented swimmer: an alias, a line of story, a level (``words.LEVELS``), and the body that swims."""

    alias: str
    story: str
    level: str
    event: str
    swimmer: Swimmer


CAST: dict[str, Role] = {
    role.alias: role
    for role in (
        Role(
            "rowan",
            "Swims 1500 m in a lake every Sunday; the elbow holds, but the forearm is straight down a little late.",
            "distance",
            "1500 m open water",
            Swimmer(
                stature_m=1.80, rate=44.0, speed=1.32, breathing="r", breath_every=2, late_hand=0.75, early_forearm=0.4,
                variation=1.0, seed=11,
            ),
        ),
        Role(
            "heron",
            "Came from running, tall and keen; the elbow leads the hand backward and the hand lands across the middle.",
            "triathlete",
            "750 m open water",
            Swimmer(
                stature_m=1.86, rate=47.0, speed=1.15, dropped_elbow=1.0, crossover=1.0, roll=34.0, pitch=7.0,
                depth=0.17, variation=1.0, seed=23,
            ),
        ),
        Role(
            "wren",
            "Sprints 50 m for a club that does not exist; quick, with the forearm down before anyone notices.",
            "sprint",
            "50 m freestyle",
            Swimmer(
                stature_m=1.68, rate=57.0, speed=1.78, early_forearm=1.15, roll=36.0, pitch=4.5, breathing="l",
                breath_every=2, variation=1.0, seed=37,
            ),
        ),
        Role(
            "alder",
            "Learned as an adult last winter; looks ahead to see the wall, and the legs fly apart on every breath.",
            "learner",
            "to swim 400 m without a stop",
            Swimmer(
                stature_m=1.74, rate=38.0, speed=0.95, scissor=1.0, head_lift=1.0, early_forearm=0.5, roll=46.0,
                pitch=9.0, depth=0.20, variation=1.0, seed=41,
            ),
        ),
    )
}  # fmt: skip
