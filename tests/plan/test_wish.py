"""What the maker insists on and forbids."""

import manifold3d
import pytest

from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.errors import Refusal
from witnessmark.job.models import Blank, Job, PieceSpec, Wish
from witnessmark.plan.piece import plan_piece
from witnessmark.plan.search import lay_out
from witnessmark.shapes.solid import Solid


def wished(wish: Wish, length_mm: float = 300.0) -> tuple[Job, PieceSpec, Solid]:
    piece = Solid(manifold3d.Manifold.cube((length_mm, 60, 20), True))
    blank = Blank(size_x_mm=length_mm + 60, size_y_mm=120, size_z_mm=24)
    return (
        demonstration_job().model_copy(update={"wish": wish}),
        PieceSpec(name="bar", shape="b.stl", blank=blank),
        piece,
    )


def test_more_placements_than_wished_are_refused_with_a_change_that_works() -> None:
    """A bar a little longer than the travel is refused in one placement; the travel named then does it."""
    job, spec, piece = wished(Wish(max_placements=1))
    with pytest.raises(Refusal) as refused:
        plan_piece(job, spec, piece)
    (trouble,) = refused.value.troubles
    assert "the wish allows 1" in trouble.what
    (travel,) = [remedy for remedy in trouble.remedies if "more travel along X" in remedy]
    more_mm = float(travel.split()[0])
    longer = job.machine.model_copy(update={"travel_x_mm": job.machine.travel_x_mm + more_mm})
    assert lay_out(job.model_copy(update={"machine": longer}), spec, piece).bound <= 1


@pytest.mark.parametrize("first", ["+z", "-z"])
def test_the_side_insisted_on_comes_first(first: str) -> None:
    """With first_up, that side is up first."""
    job, spec, piece = wished(Wish(first_up=first), 200.0)  # type: ignore[arg-type]
    assert lay_out(job, spec, piece).sides[0].up == first


def test_a_forbidden_side_is_never_up() -> None:
    """With -z forbidden, everything is planned from +z alone; with both, it is refused."""
    job, spec, piece = wished(Wish(forbid_sides=("-z",)), 200.0)
    assert {side.up for side in lay_out(job, spec, piece).sides} == {"+z"}
    job, spec, piece = wished(Wish(forbid_sides=("-z", "+z")), 200.0)
    with pytest.raises(Refusal, match="every side is forbidden"):
        lay_out(job, spec, piece)
