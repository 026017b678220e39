"""Coils that could be made for a wanted rate, load and length, ranked, with what speaks for and against each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tussock.errors import DomainError
from tussock.mechanics.springs.coil import CoilSpring, Ends, Seating
from tussock.mechanics.springs.rainflow import Cycle
from tussock.mechanics.springs.spectrum import Strokes, stress_reserve
from tussock.mechanics.springs.wire import STEELS, SpringSteel

#: spring index that can be coiled (EN 13906-1, scope, from memory; below 4 hot coils are made with care)
_INDEX_HOT = (4.0, 12.0)
_INDEX_COLD = (4.0, 20.0)
_LEAST_COILS = 3.0  # EN 13906-1, scope of hot-coiled springs, from memory
_MEAN_STEP = 1e-3  # mandrels come in whole millimetres: common practice, no source


@dataclass(frozen=True, kw_only=True, slots=True)
class Proposal:
    """A coil that could be made for a wanted load, length and rate, with what speaks for and against it.

    Attributes
    ----------
    spring : CoilSpring
        The coil.
    rate_deviation : float
        Rate over the wanted one, less 1 [-]: coils are made in steps.
    solid_stress_share : float
        Stress at solid over the permissible one [-].
    bind_margin : float
        Length at full bump over the smallest permissible length [m].
    fatigue_margin : float
        Factor by which the stresses might grow: over the rounds wanted, or over two million full strokes [-]; infinite
        where no data apply.
    mass : float
        Of the wire [kg].
    reasons : tuple of str
        Figures for and against, in words.
    failing : int
        How many checks fail.
    """

    spring: CoilSpring
    rate_deviation: float
    solid_stress_share: float
    bind_margin: float
    fatigue_margin: float
    mass: float
    reasons: tuple[str, ...]
    failing: int

    @property
    def fits(self) -> bool:
        """Whether every check passes."""
        return self.failing == 0

    @property
    def worst_use(self) -> float:
        """The larger of both stresses over what is permitted: at solid, and upper stress of the stroke [-]."""
        return max(self.solid_stress_share, 1.0 / self.fatigue_margin if self.fatigue_margin > 0.0 else math.inf)


def propose(
    *,
    rate: float,
    load: float,
    length: float,
    shortest: float,
    wires: Sequence[float],
    inside_least: float,
    outside_most: float,
    longest: float = 0.0,
    strokes: Sequence[Cycle] = (),
    rounds: float = 1.0,
    ends: Ends = "hot, ground",
    seating: Seating = "fixed, fixed",
    coil_step: float = 0.05,
    steel: SpringSteel = STEELS["EN 10089 hot rolled"],
    tensile_strength: float = 0.0,
) -> tuple[Proposal, ...]:
    """Propose coils for a wanted rate and load at a length, the best first.

    Each wire of the list is tried with mean diameters in steps of 1 mm between the seats' limits; the number of coils
    follows from the rate, rounded to the step, and the free length from the load. For each wire the mean diameter
    that fits and uses the least of what is permitted, at solid and in fatigue, is kept.

    Parameters
    ----------
    rate, load, length : float
        Wanted rate [N/m] and load [N] at the installed length [m].
    shortest : float
        Length at full bump [m]; the spring must stay above its smallest permissible length there.
    wires : sequence of float
        Wire diameters that can be had [m].
    inside_least, outside_most : float
        Least inner and greatest outer diameter [m]; the growth at solid is counted in.
    longest : float
        Length at full droop [m], where the fatigue stroke begins; 0 takes the installed length.
    strokes : sequence of Cycle
        Lengths that one round of the loop goes through [m]; empty judges two million strokes from longest to shortest.
    rounds : float
        Rounds that the spring must last.
    ends, seating
        As in `CoilSpring` and its buckling check.
    coil_step : float
        Step of the active coils [-].
    steel : SpringSteel
        Moduli and density.
    tensile_strength : float
        Of the wire [Pa], for cold-coiled springs.

    Returns
    -------
    tuple of Proposal
        Those that fit first, then by the number of checks that fail; among equals the one that uses least of what is
        permitted, at solid and in fatigue, in steps of 2 %, then the lighter one. At most one for each wire.

    Raises
    ------
    DomainError
        If the wish itself cannot be, or no wire of the list gives any spring between the diameters.
    """
    if min(rate, load, length, shortest, coil_step, inside_least) <= 0.0:
        raise DomainError(
            "propose: rate, load, lengths, diameters and the step of the coils must be positive, got "
            f"{rate:g} N/m, {load:g} N, {length * 1e3:g} mm, {shortest * 1e3:g} mm, {inside_least * 1e3:g} mm, "
            f"{coil_step:g}"
        )
    if shortest >= length:
        raise DomainError(
            f"propose: full bump {shortest * 1e3:g} mm must be shorter than the installed length {length * 1e3:g} mm"
        )
    if inside_least >= outside_most:
        raise DomainError(
            f"propose: inner diameter {inside_least * 1e3:g} mm must lie below the outer one {outside_most * 1e3:g} mm"
        )
    wish = _Wish(
        rate=rate,
        shortest=shortest,
        longest=max(longest, length),
        outside_most=outside_most,
        seating=seating,
        strokes=Strokes.of(strokes) if strokes else None,
        rounds=rounds,
    )
    best: list[Proposal] = []
    refused = "no mean diameter lies between the seats' limits"
    for wire in wires:
        candidates: list[Proposal] = []
        steps = math.floor((outside_most - inside_least - 2.0 * wire) / _MEAN_STEP + 1e-9)
        for step in range(steps + 1):
            mean = inside_least + wire + step * _MEAN_STEP
            exact = steel.shear_modulus * wire**4 / (8.0 * mean**3 * rate)
            coils = max(round(exact / coil_step), 1) * coil_step
            made_rate = rate * exact / coils
            try:
                spring = CoilSpring(
                    wire=wire,
                    mean_diameter=mean,
                    active_coils=coils,
                    free_length=length + load / made_rate,
                    ends=ends,
                    shear_modulus=steel.shear_modulus,
                    elastic_modulus=steel.elastic_modulus,
                    density=steel.density,
                    tensile_strength=tensile_strength,
                )
                candidates.append(_judge(spring, wish))
            except DomainError as error:
                refused = str(error)  # not a spring: longer solid than free or than full bump, or outside the tables
        if candidates:
            best.append(min(candidates, key=_rank))
    if not best:
        raise DomainError(f"propose: no coil can be made from this wire list; the last one failed because {refused}")
    return tuple(sorted(best, key=_rank))


@dataclass(frozen=True, kw_only=True, slots=True)
class _Wish:
    rate: float
    shortest: float
    longest: float
    outside_most: float
    seating: Seating
    strokes: Strokes | None
    rounds: float


def _percent(share: float, *, signed: bool = False) -> str:
    if not signed:
        return f"{100.0 * share:.0f} %"
    text = f"{100.0 * share:+.1f} %".replace("-", "−")
    return text[1:] if text[1:] == "0.0 %" else text


def _rank(proposal: Proposal) -> tuple[int, float, float]:
    return proposal.failing, math.ceil(proposal.worst_use / 0.02), proposal.mass


def _judge(spring: CoilSpring, wish: _Wish) -> Proposal:
    check = spring.check(longest=wish.longest, shortest=wish.shortest, seating=wish.seating)
    deviation = spring.rate / wish.rate - 1.0
    margin = math.inf
    if check.fatigue is not None:
        margin = stress_reserve(spring, wish.strokes, rounds=wish.rounds) if wish.strokes else check.fatigue.margin
    reasons = [
        f"{spring.mass:.1f} kg",
        f"{_percent(check.solid_stress_share)} of the permitted stress at solid",
        f"{check.bind_margin * 1e3:.0f} mm above its shortest permissible length at full bump"
        if check.bind_margin >= 0.0
        else f"{-check.bind_margin * 1e3:.0f} mm too long: coils touch before full bump",
        f"rate {_percent(deviation, signed=True)}",
    ]
    if check.fatigue is None:
        reasons.append("no fatigue data for this wire and coiling")
    elif wish.strokes:
        reasons.append(f"{_percent(1.0 / margin)} of the stress that outlasts the loop")
    else:
        reasons.append(f"upper stress {_percent(1.0 / margin)} of what {check.fatigue.cycles:,} cycles permit")
    if check.loose > 0.0:  # said, not refused: a retained spring may hang loose
        reasons.append(f"hangs loose by {check.loose * 1e3:.0f} mm at full droop")
    if check.buckling_margin < 0.0:
        reasons.append(f"buckles {-check.buckling_margin * 1e3:.0f} mm before full bump unless guided")
    low, high = _INDEX_HOT if spring.ends.startswith("hot") else _INDEX_COLD
    coilable = low <= spring.index <= high
    if not coilable:
        reasons.append(f"spring index {spring.index:.1f} is hard to coil ({low:g} to {high:g})")
    enough = spring.active_coils >= _LEAST_COILS
    if not enough:
        reasons.append(f"{spring.active_coils:.2f} active coils; at least {_LEAST_COILS:g} are needed")
    grown = spring.mean_diameter + spring.wire + spring.solid_diameter_growth()
    clear = grown <= wish.outside_most + 1e-9
    if not clear:
        reasons.append(f"grows to {grown * 1e3:.1f} mm outside at solid, {wish.outside_most * 1e3:.1f} mm are free")
    passed = (
        check.solid_stress_share <= 1.0,
        check.bind_margin >= 0.0,
        check.buckling_margin >= 0.0,
        margin >= 1.0,
        coilable,
        enough,
        clear,
    )
    return Proposal(
        spring=spring,
        rate_deviation=deviation,
        solid_stress_share=check.solid_stress_share,
        bind_margin=check.bind_margin,
        fatigue_margin=margin,
        mass=spring.mass,
        reasons=tuple(reasons),
        failing=passed.count(False),
    )
