"""Compare two setups: paired in time, honest about chance, refusing where the design cannot tell.

METHOD.md beside this file has the method in plain words, the evidence and the limits. What `compare` returns holds numbers
and codes (`comparison.py`); `reach.tell.sentences.comparison` says them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from reach.assign.clock import ClockFit
    from reach.assign.powers import Powers
    from reach.compare.comparison import Comparison

STRONGEST_POWER_DB: Final = 60.0


def compare(
    spots: pd.DataFrame,
    a: str,
    b: str,
    *,
    schedule: pd.DataFrame | str | Path | None = None,
    power_difference_db: float | None = 0.0,
    powers: Powers | None = None,
    clock: ClockFit | None = None,
    control: pd.DataFrame | Mapping[str, pd.DataFrame] | None = None,
    decoding_limit_db: float | None = None,
    in_detail: bool = True,
) -> Comparison:
    """By how many decibels one setup is stronger than the other, where, and how sure that is.

    spots : any table with time_utc, rx_call, rx_locator, snr_db, band and setup; `mode` keeps modes apart;
        distance_km and bearing_deg, or tx_locator, and mid_day_night allow the breakdown; where there is `trust`, a report
        whose locator is not corroborated counts in the whole but in no distance, direction, day or night
    a, b : names of the setups; with both on the air at once also two callsigns of tx_call or two frequencies in MHz
    schedule : transmit schedule with start, end, setup (a table or a CSV file); replaces `setup`
    power_difference_db : power of A minus power of B at the antenna [dB], taken off; None: not known, not taken off
    powers : what rows and study tell of the powers (assign.powers.between, of these spots); goes before the number
    clock : whether the schedule that named the setups fits the reports (assign.clock.fit); None: nothing speaks against it
    control : spots of another station in the same period whose setup did not change, or name -> spots of several; same
        columns, `setup` not needed
    decoding_limit_db : the weakest report that can be decoded [dB in 2500 Hz], where it is known
    in_detail : also cross-checks, the breakdown and the tables for drawing, which take half of the time
    Returns Comparison, A minus B; its verdict is `cannot tell`, with reasons, where the design cannot tell, the schedule does
    not fit or the powers contradict each other. The argument is left as it was. CompareError where the question itself is
    wrong; StudyError for a schedule file with a mistake.
    """
    from dataclasses import replace
    from pathlib import Path

    from reach.assign import schedule as schedules
    from reach.compare import checks, evidence, verdict
    from reach.errors import CompareError

    if power_difference_db is not None and not abs(power_difference_db) <= STRONGEST_POWER_DB:
        raise CompareError(f"a power difference is a number of dB within +-60, not {power_difference_db!r}")
    controls = {} if control is None else {"": control} if not isinstance(control, Mapping) else dict(control)
    for each in controls.values():
        evidence.needed(each, "the control station's spots need")
    doubt = checks.in_doubt(powers, clock)
    rows = schedules.read(schedule) if isinstance(schedule, (str, Path)) else schedule
    labelled = evidence.label(spots, a, b, rows, unheard=clock is not None and clock.doubtful)
    power_db, taken_db = evidence.power(labelled, powers, power_difference_db)
    power_said, clock_said = evidence.told(powers, clock)
    silent = checks.unheard(int(labelled.is_a.sum()), int((~labelled.is_a).sum()))
    about: dict[str, Any] = {"power_difference_db": taken_db, "power": power_said, "clock": clock_said}
    if silent is not None:
        return verdict.refused(replace(evidence.nothing(labelled, a, b), **about), doubt or silent)
    data = evidence.gather(labelled, a, b, power_db, decoding_limit_db)
    base = replace(evidence.known(data), **about)
    if doubt is not None:
        return verdict.refused(base, doubt)
    return verdict.judge(data, base, controls, in_detail=in_detail)
