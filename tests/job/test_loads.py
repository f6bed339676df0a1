"""The bite of a tooth and the power of a slot.

Sources: bite by definition; power P = kc ae ap F by definition: 30 N/mm2, 3 x 3 mm, 2000 mm/min take 9.0 W. The
cutting pressure is that of Palubicki (2021), Materials 14, 2208: 32.0 to 37.6 N/mm2 for particleboard,
taken threefold.
"""

import pytest

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.loads import PRESSURE_N_MM2, bite_mm, load_notes, power_w, suited


def cutter(**more):
    flat = demonstration_job().cutters[0]
    return flat.model_copy(update={"feed_mm_min": 2000.0, "spindle_rpm": 18000.0, "flutes": 2, **more})


def test_bite_is_feed_over_teeth_a_minute() -> None:
    assert bite_mm(cutter()) == pytest.approx(0.0555556, abs=1e-7)
    assert bite_mm(cutter(flutes=1)) == pytest.approx(0.1111111, abs=1e-7)


def test_power_is_pressure_times_chip_volume_a_minute() -> None:
    power = power_w(cutter(diameter_mm=3.0, stepdown_mm=3.0))
    assert power == pytest.approx(9.0 * PRESSURE_N_MM2 / 30.0)
    assert pytest.approx(3 * 37.6) == PRESSURE_N_MM2


def test_a_listed_cutter_is_set_down_to_what_its_machine_can() -> None:
    """18 000 rpm and 2000 mm/min on a spindle of 12 000: the same bite at 1333; no faster than the machine feeds."""
    slow = demonstration_job().machine.model_copy(
        update={"spindle_min_rpm": 5000.0, "spindle_max_rpm": 12000.0, "feed_max_mm_min": 1500.0}
    )
    set_down = suited(cutter(entry_feed_mm_min=600.0), slow)
    assert (set_down.spindle_rpm, set_down.feed_mm_min, set_down.entry_feed_mm_min) == (12000.0, 1333.0, 400.0)
    assert bite_mm(set_down) == pytest.approx(bite_mm(cutter()), rel=1e-3)
    crawling = slow.model_copy(update={"feed_max_mm_min": 300.0})
    assert suited(cutter(), crawling).feed_mm_min == suited(cutter(), crawling).entry_feed_mm_min == 300.0
    able = demonstration_job().machine
    assert suited(cutter(), able) == cutter()


def test_only_what_is_unusual_is_told() -> None:
    job = demonstration_job()
    assert load_notes(job.machine, job.cutters) == ()
    (slow,) = load_notes(job.machine, [cutter(feed_mm_min=200.0, flutes=4)])
    assert "0.003 mm" in slow
    (fast,) = load_notes(job.machine, [cutter(feed_mm_min=4000.0, spindle_rpm=8000.0, flutes=1, stepdown_mm=1.0)])
    assert "0.50 mm" in fast
    weak = job.machine.model_copy(update={"spindle_power_w": 50.0})
    (heavy,) = load_notes(weak, [cutter(stepdown_mm=6.0)])
    assert "135 W" in heavy
    assert "50 W" in heavy
