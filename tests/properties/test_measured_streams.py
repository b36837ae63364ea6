"""Measured streams know at each moment what had been seen by then, whatever the order of rows."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US, Evidence
from qc.monitor.measured import find_shifts
from qc.monitor.measured_findings import measured_findings
from qc.monitor.readings import CHARACTERISTICS, gather_readings
from tests.qc.monitor.measured_shop import (
    PLACEMENT,
    MeasuredShop,
    evidence_of,
    measured,
    measurements,
    seen_until,
)

BUDGET = AlarmBudget(false_flags_per_week=1.0)
PLACED = tuple(c for c in CHARACTERISTICS if c.kind == "placement")
SHOP = MeasuredShop(days=45, jobs_a_day=6.0, n_presses=4, n_people=5, n_places=2, late=0.05)
FOREVER = 2**62


@st.composite
def shops(draw):
    """A small shop with up to three episodes of misplacement, some of them at one level."""
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    evidence = evidence_of(SHOP, rng)
    values = measured(evidence, PLACEMENT, SHOP, rng)
    first, last = int(evidence.pressed_us.min()), int(evidence.pressed_us.max())
    for _ in range(draw(st.integers(0, 3))):
        factor = draw(st.sampled_from(["press", "operator", "location", "shop"]))
        level = draw(st.integers(0, len(evidence.factors[factor].levels) - 1))
        name = draw(st.sampled_from(PLACEMENT))
        begin = first + draw(st.floats(0.2, 0.9)) * (last - first)
        end = begin + draw(st.floats(0.05, 0.8)) * (last - first)
        codes, pressed = evidence.factors[factor].codes, evidence.pressed_us
        mask = (codes == level) & (pressed >= begin) & (pressed < end)
        values[name][mask] += draw(st.sampled_from([-1, 1])) * (
            5.0 if name != "rotation_deg" else 1.5)
    return evidence, values


def signalled(readings, shifts, until):
    """What was said, and when, before a slot."""
    return sorted(
        (readings.seen_us[s.signalled].item(), s.signalled_slot, s.first)
        for s in shifts if readings.seen_slot[s.signalled] < until
    )


@settings(max_examples=15, deadline=None)
@given(shops(), st.floats(0.3, 1.0))
def test_what_came_later_changes_no_signal(shop, share):
    evidence, values = shop
    first, last = int(evidence.seen_us.min()), int(evidence.seen_us.max())
    until = int((first + share * (last - first)) // SLOT_US)
    whole = gather_readings(evidence, measurements(values))
    kept = evidence.seen_us < until * SLOT_US
    then = gather_readings(
        seen_until(evidence, until * SLOT_US - 1),
        measurements({name: value[kept] for name, value in values.items()}),
    )
    early = find_shifts(then, PLACED, BUDGET, as_of_us=until * SLOT_US, n_groups=1)
    as_of = find_shifts(whole, PLACED, BUDGET, as_of_us=until * SLOT_US, n_groups=1)
    late = find_shifts(whole, PLACED, BUDGET, as_of_us=FOREVER, n_groups=1)
    said = signalled(whole, late.shifts, until)
    assert signalled(then, early.shifts, until) == said
    assert signalled(whole, as_of.shifts, until) == said


@settings(max_examples=6, deadline=None)
@given(shops(), st.integers(0, 2**32 - 1))
def test_the_order_of_rows_does_not_matter(shop, seed):
    evidence, values = shop
    order = np.random.default_rng(seed).permutation(len(evidence.n))
    mixed = _taken(evidence, order)
    found = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
    again = measured_findings(
        mixed, measurements({name: value[order] for name, value in values.items()}), BUDGET,
        as_of_us=FOREVER,
    )
    assert [(f.id_text, f.factor.level, f.changed_at_us, f.ended_at_us) for f in found] == [
        (f.id_text, f.factor.level, f.changed_at_us, f.ended_at_us) for f in again]
    for one, other in zip(found, again, strict=True):
        np.testing.assert_allclose(
            [row[1:] for row in one.shift], [row[1:] for row in other.shift], rtol=1e-6)


def _taken(evidence: Evidence, order) -> Evidence:
    whole = seen_until(evidence, FOREVER)
    fields = {name: getattr(whole, name) for name in ("pressed_us", "seen_us", "n", "cell")}
    return type(evidence)(**{
        **{name: getattr(whole, name) for name in evidence.__slots__},
        **{name: value[order] for name, value in fields.items()},
        "factors": {name: coded.take(order) for name, coded in whole.factors.items()},
        "job": whole.job.take(order), "run": whole.run.take(order),
    })
