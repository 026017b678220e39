"""Independent wheels given what cannot be built or reached: refused in words. The pick-up (Dunnock) is invented."""

from __future__ import annotations

import numpy as np
import pytest
from linkage_wheels import ARM_BUSHES, RADIUS, WISHBONE, points

from tussock.errors import AssemblyError, InputError, SolverError
from tussock.mechanics.linkage import SpringRod, TorsionSpringing, build_wheel, sweep_wheel


def test_two_assemblies_are_told_apart_and_a_lock_says_where() -> None:
    """A wheel driven beyond what its arms reach: the text names the travel that can be reached."""
    short = points(WISHBONE, upper_arm_front=(0.086, 0.560, 0.533), upper_arm_rear=(-0.128, 0.566, 0.513))
    wheel = build_wheel("double_wishbone", short, wheel_radius=RADIUS, name="front wheel")
    with pytest.raises(SolverError, match=r"front wheel: .*travel .* mm.* it moves freely to travel") as caught:
        sweep_wheel(wheel, np.array([-0.25, 0.25]))
    reached = float(str(caught.value).split("moves freely to travel ")[1].split(" mm")[0])
    assert 40.0 < abs(reached) < 250.0
    sweep_wheel(wheel, np.array([0.98e-3 * reached]))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"layout": "three_wishbones"}, "no layout 'three_wishbones'"),
        ({"steering": "tiller"}, "no steering 'tiller'"),
        ({"side": "port"}, "left or right"),
        ({"wheel_radius": -0.3}, "wheel radius is -0.3"),
        ({"bushes": {"lower_arm_front": ARM_BUSHES["lower_arm_front"]}}, "needs both of its pivots"),
        ({"bushes": {"middle_arm_front": ARM_BUSHES["lower_arm_front"]}}, "does not have"),
        ({"rod_lengths": {"track_rod": 0.4}}, "the rods are"),
        ({"spring": SpringRod(rate=-1.0, free_length=0.4)}, "must be above zero"),
        ({"torsion_bar": TorsionSpringing(rate=0.0, twist=0.4)}, "must be above zero"),
    ],
)
def test_bad_input_is_refused_in_words(change: dict[str, object], words: str) -> None:
    keywords: dict[str, object] = {"layout": "double_wishbone", "wheel_radius": RADIUS, **change}
    with pytest.raises(InputError, match=words):
        build_wheel(hardpoints=points(WISHBONE), **keywords)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"lower_ball": (0.0, -0.7, 0.27)}, "was the other side given"),
        ({"lower_bal": (0.0, 0.7, 0.27)}, "did you mean 'lower_ball'"),
        ({"spring_chassis": (float("nan"), 0.5, 0.6)}, "finite"),
        ({"lower_arm_rear": WISHBONE["lower_arm_front"]}, "no length"),
        ({"tie_rod_inner": WISHBONE["tie_rod_outer"]}, "tie_rod"),
    ],
)
def test_bad_hardpoints_are_refused_in_words(table: dict[str, tuple[float, float, float]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        build_wheel("double_wishbone", points({**WISHBONE, **table}), wheel_radius=RADIUS)


def test_missing_drop_link_and_tie_rod_that_cannot_reach() -> None:
    table = {k: v for k, v in WISHBONE.items() if k != "drop_link_lower_arm"}
    with pytest.raises(InputError, match="needs one hardpoint 'drop_link_<body>'"):
        build_wheel("double_wishbone", points(table), wheel_radius=RADIUS)
    with pytest.raises(AssemblyError, match="tie_rod"):
        build_wheel("double_wishbone", points(WISHBONE), wheel_radius=RADIUS, rod_lengths={"tie_rod": 0.9})
    with pytest.raises(InputError, match="cannot be steered"):
        build_wheel("double_wishbone", points(WISHBONE), wheel_radius=RADIUS, steering="fixed").solve(
            np.zeros(1), np.array([0.01])
        )
