"""A kept spring is reckoned with as it was kept."""

import numpy as np
import pytest

from mechanics.bench import BenchFit
from mechanics.materials import find_material
from mechanics.whole_readings import rate_reading
from ui.answer import answer_of_readings
from ui.caliper import Readings
from ui.collection.record import spring_of
from ui.collection.store import URL_VARIABLE, Collection
from ui.evidence import evidence_of, improved
from ui.kept import draws_of_kept, find_kept

READ = Readings(1.2, 13.2, 9.0, 38.0)


def kept(name="front left", bench=None):
    answer = answer_of_readings(READ, find_material("music wire"))
    if bench is not None:
        reading = rate_reading(BenchFit(bench, 0.02 * bench, 0.0, (0, 1), (), ()))
        answer = improved(answer, evidence_of(READ), [reading])
    return spring_of(answer, name)


@pytest.mark.parametrize("bench", [None, 1.75])
def test_draws_have_the_kept_values_and_bands(bench):
    """A bench narrowed the kept rate: the draws must not fall back on the dimensions alone."""
    spring = kept(bench=bench)
    draws = draws_of_kept(spring)
    drawn = np.column_stack(
        [
            draws.wire_diameter_mm,
            draws.mean_diameter_mm,
            draws.total_coils,
            draws.free_length_mm,
            draws.rate_N_per_mm,
        ]
    )
    u = np.diag(spring.covariance) ** 0.5
    assert (np.abs(drawn.mean(axis=0) - spring.values) < 0.15 * u).all()
    assert drawn.std(axis=0) == pytest.approx(u, rel=0.06)
    r = np.corrcoef(drawn.T)[0, 4]
    assert r == pytest.approx(spring.covariance[0][4] / u[0] / u[4], abs=0.05)


def test_a_kept_spring_is_found_by_its_name(tmp_path, monkeypatch):
    url = f"sqlite:///{tmp_path / 'springs.sqlite'}"
    monkeypatch.setenv(URL_VARIABLE, url)
    collection = Collection(url)
    for name in ("front left", "front right", "Rear"):
        collection.keep(kept(name))
    collection.close()
    assert find_kept("rear").name == "Rear"
    assert find_kept("left").name == "front left"
    with pytest.raises(ValueError, match="several springs: front left, front right"):
        find_kept("front")
    with pytest.raises(ValueError, match="no spring of that name"):
        find_kept("middle")
