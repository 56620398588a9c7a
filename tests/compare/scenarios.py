"""The simulated cases that the method is held to: designs that can tell, designs that cannot, and no difference."""

from __future__ import annotations

from tests.compare.simulator import Scenario

# Designs that identify the difference.
IDENTIFIABLE = (
    Scenario("slot by slot", design="slots", block_min=2),
    Scenario("10-min blocks"),
    Scenario("20-min blocks", block_min=20),
    Scenario("30-min blocks", block_min=30),
    Scenario("10-min blocks, random order in pairs", design="random"),
    Scenario("both on the air at once", design="together"),
    Scenario("fading mostly shared", shared=0.9),
    Scenario("weak: 3 dB, near the limit", truth_db=3, level_db=-25),
    Scenario("big: 8 dB", truth_db=8),
    Scenario("closing band", truth_db=0, trend_db=-20),
    Scenario("A has 3 dB more power", power_difference_db=3),
    Scenario("3 hours", hours=3),
    Scenario("sparse: 17 receivers", receivers=17),
    Scenario("rich: 170 receivers, 24 h", receivers=170, hours=24),
    Scenario("one slot in ten minutes", design="slots", on_air=0.2),
    Scenario("three bands in turn", bands=3, hours=24),
    Scenario("hoppers locked to the alternation", design="slots", block_min=2, locked_hoppers=0.3),
    Scenario("15 % duplicate rows", duplicates=0.15),
    Scenario("decoders of different quality", decoder_sd_db=2),
    Scenario("saturating at 0 dB", level_db=-8, top_db=0),
    Scenario("receivers differ, sd 2 dB", truth_sd_db=2),
)
# The same designs, no difference: "better" is wrong.
NO_DIFFERENCE = (
    Scenario("none, slot by slot", design="slots", block_min=2, truth_db=0),
    Scenario("none, 10-min blocks", truth_db=0),
    Scenario("none, 30-min blocks", block_min=30, truth_db=0),
    Scenario("none, random order in pairs", design="random", truth_db=0),
    Scenario("none, both at once", design="together", truth_db=0),
    Scenario("none, fading mostly shared", shared=0.9, truth_db=0),
    Scenario("none, 3 hours", hours=3, truth_db=0),
    Scenario("none, sparse", receivers=17, truth_db=0),
    Scenario("none, A has 3 dB more power", power_difference_db=3, truth_db=0),
    Scenario("none, receivers differ, sd 2 dB", truth_sd_db=2, truth_db=0),
)
# Bands gone through in turn, ten minutes of each setup on each: how many operators work.
COUNTS = (1, 2, 4, 6, 9, 10)
TURNS = (
    *(Scenario(f"{k} bands in turn", bands=k) for k in COUNTS),
    *(Scenario(f"{k} bands in turn, order reversed", design="reversed", bands=k) for k in (2, 6, 10)),
    *(Scenario(f"none, {k} bands in turn, closing", bands=k, truth_db=0, trend_db=-20) for k in COUNTS),
)
# Setup changes from day to day only, in ways that still can tell.
DAILY = (
    Scenario("10 days in turn", design="days", days=10, hours=6, receivers=60),
    Scenario("none, 10 days in turn", design="days", days=10, hours=6, receivers=60, truth_db=0),
    Scenario("4 days before, 4 after, control", design="before after", days=8, hours=6, receivers=60, control=True),
    Scenario(
        "none, 4 before, 4 after, control",
        design="before after",
        days=8,
        hours=6,
        receivers=60,
        control=True,
        truth_db=0,
    ),
)
# Designs that cannot tell, with and without a difference.
CONFOUNDED = (
    Scenario("morning A, afternoon B", design="halves", truth_db=0),
    Scenario("A one day, B the next", design="day each", days=2, hours=6, truth_db=0),
    Scenario("A one day, B the next, 3 dB", design="day each", days=2, hours=6, truth_db=3),
    Scenario("one day each, with control", design="day each", days=2, hours=6, truth_db=0, control=True),
    Scenario("4 days before, 4 after", design="before after", days=8, hours=6, receivers=60, truth_db=0),
    Scenario("2-hour blocks", block_min=120, truth_db=0),
    Scenario("A on one band, B on another", design="split", bands=2, truth_db=0),
)
# One power against another: known, and so no antenna's merit. 5 W against 1 W is 7 dB.
_W5_1_DB = 6.9897
POWERS = (
    Scenario("same antenna, 5 W and 1 W", power_difference_db=_W5_1_DB, truth_db=0),
    Scenario("same antenna, 5 W and 1 W, strong", power_difference_db=_W5_1_DB, truth_db=0, level_db=-8),
    Scenario("same antenna, 5 W and 1 W, weak", power_difference_db=_W5_1_DB, truth_db=0, level_db=-25),
    Scenario(
        "same antenna, 1 W and 5 W, few receivers", power_difference_db=-_W5_1_DB, truth_db=0, receivers=30, hours=6
    ),
    Scenario("2 dB better with a fifth of the power", power_difference_db=-_W5_1_DB),
    Scenario("same antenna, 5 W or 1 W by block", power_varies_db=_W5_1_DB, truth_db=0),
    Scenario("same antenna, 5 W or 1 W by block, weak", power_varies_db=_W5_1_DB, truth_db=0, level_db=-25),
    Scenario("2 dB better, 5 W or 1 W by block, random order", power_varies_db=_W5_1_DB, design="random"),
)
# What weakens a comparison: shown, not aimed at.
HARD = (
    Scenario("B fades 12 % more deeply", fast_b_factor=1.12),
    Scenario("B fades 25 % more deeply", fast_b_factor=1.25),
    Scenario("one local receiver has half the spots", local_share=True, level_db=-16),
    Scenario("nearly all at the limit", level_db=-40, receivers=400),
    Scenario("take-off: 3 dB per factor 4", take_off_db=3),
)
