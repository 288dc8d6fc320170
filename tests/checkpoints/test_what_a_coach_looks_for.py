"""All that a coach looks for in freestyle has its place: a number, a question for the eye, a thing to leave alone.

The list is the trade's teaching of each checkpoint. Common practice, no source.
"""

from __future__ import annotations

import pytest

from casebook.checkpoints.advice import load_advice
from casebook.checkpoints.bands import load_bands
from casebook.words import QUANTITIES

#: Checkpoint, what a coach looks for, and where it is: quantities, ``?`` a question for the eye, ``~`` a harmless
#: variation by a word in it, ``!`` a caution by a word in it.
LOOKED_FOR = [
    ("body_line", "slope of the trunk", ["trunk_tilt_deg"]),
    ("body_line", "how deep hips and heels lie", ["hip_depth_m", "heel_depth_m"]),
    ("body_line", "when the legs sink", ["?sink"]),
    (
        "body_line",
        "head against trunk and level, and where the eyes look",
        ["head_angle_deg", "head_level_deg", "?eyes"],
    ),
    (
        "body_line",
        "crown against the water; a duck of the head is harmless",
        ["crown_height_m", "~just after a breath"],
    ),
    ("entry", "fingertips first, no slap", ["entry_hand_slope_deg", "?first"]),
    (
        "entry",
        "in line with the shoulder, not across the middle",
        ["entry_from_midline_pct", "front_rails_pct", "?where"],
    ),
    ("entry", "how far ahead the hand goes in", ["entry_ahead_pct"]),
    ("entry", "where the palm faces", ["?palm"]),
    ("extension", "depth and slope of the arm at full reach", ["reach_depth_m", "reach_slope_deg"]),
    ("extension", "fingertips below wrist below elbow", ["reach_hand_slope_deg"]),
    ("extension", "palm down; turned out a little is a habit to leave and not to teach", ["?palm", "~palm turned"]),
    ("extension", "not rushed: time to full reach is shown", ["wait_s"]),
    ("extension", "where the hand goes: not up, not straight down", ["?way"]),
    ("catch", "elbow above the line from shoulder to fingertips", ["elbow_height_pct"]),
    ("catch", "bend of the elbow, which may come near 90", ["elbow_angle_45_deg", "elbow_angle_under_deg"]),
    ("catch", "upper arm nearly still", ["upper_arm_turn_deg"]),
    ("catch", "hand ahead when the forearm is straight down", ["hand_ahead_pct"]),
    ("catch", "pressure on the little-finger side and forearm, not on the thumb side", ["?pressure", "!little-finger"]),
    ("catch", "stiff shoulders are not held up to a picture", ["!Stiff shoulders"]),
    ("pull", "hand by the body's outline, slightly wide past the shoulder", ["pull_from_midline_pct", "?path"]),
    ("pull", "depth of the hand, elbow wider than the hand", ["pull_depth_pct", "elbow_wider_pct"]),
    ("pull", "fingers down, not to the side or under the body", ["?fingers"]),
    ("pull", "forearm and hand facing back", ["forearm_back_pct"]),
    ("recovery", "exit by hip to upper thigh, relaxed", ["exit_past_hip_pct", "?exit"]),
    ("recovery", "no swing behind the back or across; straight or bent is a style", ["?swing", "~straight-arm"]),
    ("breathing", "breathing out under water, first of all", ["?out"]),
    ("breathing", "one goggle in the water, no lift", ["breath_lift_m", "breath_goggle_m", "?goggle"]),
    (
        "breathing",
        "side and timing, face back before the hand",
        ["breath_every_strokes", "breath_back_s", "breath_time_s"],
    ),
    ("breathing", "what the front arm does meanwhile", ["front_arm_drop_m", "?front_arm"]),
    ("breathing", "a duck of the head just after it", ["?settle", "~wholly under water"]),
    ("roll", "shoulders and hips apart", ["shoulder_roll_deg", "hip_roll_deg", "twist_range_deg"]),
    (
        "alignment",
        "middles of head, hips and ankles in a corridor",
        ["head_wander_pct", "hips_wander_pct", "ankles_wander_pct"],
    ),
    ("alignment", "told from a camera off the line", ["!on the line of swimming"]),
    ("kick", "bend at the knee, thigh, ankle", ["knee_least_deg", "thigh_drop_deg", "ankle_off_deg"]),
    (
        "kick",
        "feet little wider than the trunk; a small spread on the breath is harmless",
        ["feet_spread_hips", "~small spread"],
    ),
    ("timing", "foot downbeat, hip and catch together", ["kick_catch_deg", "?step"]),
    ("timing", "where the front hand is when the other goes in", ["front_hand_pct", "other_arm_pct"]),
    ("rate", "rate, length, speed", ["strokes_per_min", "distance_per_cycle_m", "speed_m_s", "strokes_per_length"]),
]


@pytest.mark.parametrize(("checkpoint", "what", "places"), LOOKED_FOR, ids=[row[1] for row in LOOKED_FOR])
def test_it_has_its_place(checkpoint, what, places):
    advice = load_advice(checkpoint)
    for place in places:
        kind, word = place[0], place[1:]
        if kind == "?":
            assert word in {q.key for q in advice.questions}, place
        elif kind == "~":
            assert any(word in h.seen for h in advice.harmless), place
        elif kind == "!":
            assert any(word in c.words for c in advice.cautions), place
        else:
            assert place in QUANTITIES, place


@pytest.mark.parametrize(
    ("quantity", "levels"),
    [("hand_ahead_pct", ("sprint", "triathlete", "distance")), ("knee_least_deg", ("learner", "sprint", "distance"))],
)
def test_bands_differ_by_level(quantity, levels):
    """Bands of the coach's practice, each level with its own lower edge, the stricter last."""
    edges = [load_bands(level).get(quantity).low for level in levels]
    assert edges == sorted(edges) and len(set(edges)) == len(edges)


def test_the_first_question_of_breathing_is_about_breathing_out():
    assert load_advice("breathing").questions[0].key == "out"


def test_words_differ_by_level_where_the_matter_does():
    fault = load_advice("catch").fault("straight_arm")
    assert len({fault.told(level).why for level in ("learner", "sprint", "distance")}) == 3
    assert fault.told("distance") == fault
    sprint, distance = (load_advice("catch").harmless_for(level) for level in ("sprint", "distance"))
    assert any("sprint" in h.seen for h in sprint) and not any("sprint" in h.seen for h in distance)


def test_what_was_seen_and_is_harmless_is_a_word_of_a_question():
    for name in {row[0] for row in LOOKED_FOR}:
        advice = load_advice(name)
        words = {w for q in advice.questions for w in q.answers}
        assert all(set(h.by_eye) <= words for h in advice.harmless), name
