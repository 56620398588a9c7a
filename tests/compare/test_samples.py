"""The comparison held to the samples' written truth, to laws, and to published statistics."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import reach
from reach import study
from reach.assign import schedule
from reach.base.words import TERMINAL
from reach.compare.comparison import Note, Refused, Remark
from reach.errors import CompareError, StudyError
from reach.tell.sentences import comparison as sentences
from reach.walk import Walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"


@pytest.fixture(scope="module")
def evening(walks) -> pd.DataFrame:
    return walks["evening"].findings.spots


@pytest.fixture(scope="module")
def listeners() -> pd.DataFrame:
    return pd.read_csv(SAMPLES / "receivers.csv")


def test_the_alternating_evening_recovers_the_truth(evening, listeners):
    """Overall, by zone and by ring: the written truth, averaged over the receivers compared by their weights."""
    truth = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))
    assert truth["made_up"]
    column = next(name for name in listeners.columns if name.startswith("vertical_minus_wire"))
    call = next(name for name in listeners.columns if "call" in name)
    true_db = listeners.set_index(call)[column]
    found = reach.compare(evening, "vertical", "wire", power_difference_db=0.0)
    used = [r for r in found.by_receiver if r.difference_db is not None]
    weighted = sum(r.weight * true_db[r.rx_call] for r in used) / sum(r.weight for r in used)
    assert found.low_db <= weighted <= found.high_db
    at = evening.drop_duplicates("rx_call").set_index("rx_call")["distance_km"]
    parts = [c for c in found.cells if c.by in ("zone", "ring") and c.shown]
    assert {c.by for c in parts} == {"zone", "ring"} and len(parts) >= 8
    for cell in parts:
        inside = [r for r in used if cell.start <= at[r.rx_call] < cell.end]
        mean = np.average([true_db[r.rx_call] for r in inside], weights=[r.weight for r in inside])
        assert cell.sidak_low_db <= mean <= cell.sidak_high_db
    alone = [c.low_db <= _ring_truth(truth, c) <= c.high_db for c in parts if c.by == "ring"]
    assert np.mean(alone) >= 0.8  # each at 95 %, against the mean over all listeners of the ring, paired or not
    claimed = {c.name: c for c in found.cells if c.by == "zone" and c.differs}
    assert len(claimed) == 2  # near and far differ from the rest, as they truly do


def _ring_truth(truth, cell):
    """The difference written beside the samples for a distance ring [dB]."""
    rings = truth["difference"]["all_listeners"]["by_ring_km"]
    return rings[f"{cell.start:.0f}-{cell.end:.0f}"]["vertical_minus_wire_db"]


def test_the_badly_designed_weekend_is_refused():
    found = Walk(study.load(SAMPLES / "weekend.toml")).findings.comparison
    assert found.verdict == "cannot tell" and found.difference_db is None and found.next_steps
    (why,) = found.reasons
    assert why.code == Refused.TOO_FEW_STRETCHES and (why.values["stretches_a"], why.values["stretches_b"]) == (1, 1)
    assert found.design.kind == "confounded"


def test_swapping_the_setups_changes_the_sign_only(evening):
    ab = reach.compare(evening, "vertical", "wire", power_difference_db=0.3)
    ba = reach.compare(evening, "wire", "vertical", power_difference_db=-0.3)
    assert ab.difference_db == pytest.approx(-ba.difference_db, abs=0.02)
    assert (ab.low_db, ab.high_db) == pytest.approx((-ba.high_db, -ba.low_db), abs=0.05)


def test_order_duplicates_and_names_change_nothing(evening):
    base = reach.compare(evening, "vertical", "wire").to_dict()
    shuffled = evening.sample(frac=1, random_state=3).reset_index(drop=True)
    assert reach.compare(shuffled, "vertical", "wire").difference_db == pytest.approx(base["difference_db"], abs=1e-6)
    twice = pd.concat([evening, evening.iloc[::3]], ignore_index=True)
    assert reach.compare(twice, "vertical", "wire").difference_db == pytest.approx(base["difference_db"], abs=1e-6)
    names = {name: f"LISTENER-{k * 7919 % 10007:05d}" for k, name in enumerate(evening["rx_call"].cat.categories)}
    renamed = evening.assign(rx_call=evening["rx_call"].cat.rename_categories(names))
    assert reach.compare(renamed, "vertical", "wire").difference_db == pytest.approx(base["difference_db"], abs=1e-6)


def test_stronger_reports_of_one_setup_move_the_estimate_by_as_much(evening):
    """While no report meets the limit: both setups lifted far above it first."""
    loud = evening.assign(snr_db=evening["snr_db"] * 0.2 + 20)
    base = reach.compare(loud, "vertical", "wire", decoding_limit_db=-60).difference_db
    more = loud.assign(snr_db=loud["snr_db"] + 3 * (loud["setup"] == "vertical"))
    assert reach.compare(more, "vertical", "wire", decoding_limit_db=-60).difference_db == pytest.approx(
        base + 3, abs=0.05
    )


def test_too_little_is_refused(evening):
    few = evening.iloc[:20]
    assert reach.compare(few, "vertical", "wire").verdict == "cannot tell"
    one = evening[(evening["setup"] == "wire").to_numpy()]
    with pytest.raises(CompareError, match="did you mean 'wire'"):
        reach.compare(one, "vertical", "wier")


def test_a_schedule_reads_back_what_it_wrote():
    times = pd.date_range("2026-05-16T18:00Z", periods=5, freq="10min").to_pydatetime()
    rows = [(times[k], times[k + 1], ("vertical", "wire")[k % 2]) for k in range(4)]
    table = schedule.table(rows)
    assert schedule.parse(schedule.text(table)).astype(str).equals(table.astype(str))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("start,end\n", "line 1"),
        ("start,end,setup\n2026-05-16 18:10,2026-05-16 18:00,a\n", "line 2"),
        ("start,end,setup\nyesterday,2026-05-16 18:00,a\n", "line 2"),
        ("start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,a\n2026-05-16 18:05,2026-05-16 18:15,b\n", "line 3"),
        ("start,end,setup\n", "no rows"),
    ],
)
def test_a_wrong_schedule_is_one_sentence(text, says):
    with pytest.raises(StudyError, match=says) as error:
        schedule.parse(text, name="times.csv")
    assert "times.csv" in str(error.value) and "\n" not in str(error.value)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        (
            "evening",
            "18 stretches of vertical and 18 of wire, a change every 10 minutes, 6.0 hours on the air on 1 day",
        ),
        ("weekend", "1 stretch of vertical and 1 of wire, 16.0 hours on the air on 2 days"),
    ],
)
def test_the_design_is_told_as_it_was_understood(name, says):
    """Against the schedules beside the samples: ten-minute blocks from 18:00 to 24:00; a day each."""
    rows = pd.read_csv(SAMPLES / f"{name}_schedule.csv", comment="#")
    assert (rows["setup"] == "vertical").sum() == (rows["setup"] == "wire").sum() == int(says.split()[0])
    found = Walk(study.load(SAMPLES / f"{name}.toml")).compare()
    assert any(says in sentence for sentence in sentences.everything(found, say=TERMINAL))


def test_a_receiver_that_nothing_confirms_counts_in_the_whole_but_in_no_ring(evening):
    """Moved to nowhere: the same difference, and the rings and sectors of a table without its reports."""
    call = evening["rx_call"].value_counts().index[0]
    of = (evening["rx_call"] == call).to_numpy()
    nowhere = evening.assign(
        **{name: evening[name].mask(of) for name in ("distance_km", "bearing_deg", "mid_day_night")}
    )
    base, found = reach.compare(evening, "vertical", "wire"), reach.compare(nowhere, "vertical", "wire")
    assert found.difference_db == base.difference_db and found.receivers == base.receivers
    rings = [sum(cell.receivers for cell in one.cells if cell.by == "zone") for one in (base, found)]
    assert rings[1] == rings[0] - 1
    assert found.notes == (Remark(Note.NO_PLACE, {"reports": of.sum()}),)
