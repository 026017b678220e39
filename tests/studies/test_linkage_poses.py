"""An axle moved by hand: its nodes are the solver's poses, rods keep their length, and between nodes little is lost."""

from __future__ import annotations

import itertools
from importlib.resources import as_file, files

import numpy as np
import pytest

from tussock.errors import InputError
from tussock.mechanics.linkage import Axle, Wheel, sweep, sweep_wheel
from tussock.mechanics.linkage.model import Rod
from tussock.record import load
from tussock.studies import model
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.linkage_members import words
from tussock.studies.linkage_poses import LinkagePoses, linkage_poses

NEAR = 1.0e-3  # what a place between nodes may be off [m]; 1 mm is a pixel of the picture


@pytest.fixture(scope="module")
def dunnock() -> Job:
    with as_file(files("tussock").joinpath("data/dunnock")) as folder:
        return Job(load(folder / "programme.yaml"))


@pytest.fixture(scope="module")
def every(job: Job, dunnock: Job) -> dict[tuple[str, str], LinkagePoses]:
    """Both axles of both vehicles: two arms, links, double wishbones with a rack, leaf springs."""
    return {
        (name, end): linkage_poses(one, end)
        for name, one in (("tarn", job), ("dunnock", dunnock))
        for end in ("front", "rear")
    }


def _stem(name: str) -> str:
    return name.partition(", ")[0]


def index(poses: LinkagePoses, name: str) -> int:
    return next(i for i, spot in enumerate(poses.spots) if spot.name == name)


def test_a_rigid_axle_stands_where_the_solver_puts_it(job: Job, every: dict[tuple[str, str], LinkagePoses]) -> None:
    poses = every["tarn", "rear"]
    setup = job.setup()
    for state, stock in zip(poses.models, (True, False), strict=True):
        axle = model.axle(job, "rear", stock=stock, setup=Setup(KERB, STOCK) if stock else setup)
        assert isinstance(axle, Axle)
        for i, j in ((0, 0), (4, 2), (10, 6)):
            travel, roll = (poses.sliders[k].values[n] for k, n in enumerate((i, j)))
            pose = axle.pose(state.ride + travel, roll)
            for name, body, at in (
                ("wheel centre, left", "axle", axle.wheel_centres[0]),
                ("wheel centre, right", "axle", axle.wheel_centres[1]),
            ):
                np.testing.assert_allclose(state.points[i, j, 0, index(poses, name)], pose.place(body, at), atol=1e-9)


def test_every_rod_keeps_its_length(job: Job, dunnock: Job, every: dict[tuple[str, str], LinkagePoses]) -> None:
    """Those between balls; a link in bushes gives, as its stiffness says."""
    checked = 0
    for (name, end), poses in every.items():
        built = model.axle(job if name == "tarn" else dunnock, end, stock=True)
        soft = {"rack", "anti-roll bar"} | {
            _stem(words(e.name)) for e in built.linkage.elements if isinstance(e, Rod) and not e.law.hard
        }
        for member, state in itertools.product(poses.members, poses.models):
            slides = member.name == "drag link" and poses.sliders[-1].key == "steer"
            if member.kind != "rod" or slides or _stem(member.name) in soft:
                continue
            a, b = member.points
            lengths = np.linalg.norm(state.points[..., a, :] - state.points[..., b, :], axis=-1)
            assert np.nanmax(lengths) - np.nanmin(lengths) < 1e-6, (end, member.name)
            checked += 1
    assert checked >= 6


def test_the_drag_links_end_moves_along_the_link_by_what_the_slider_says(
    every: dict[tuple[str, str], LinkagePoses],
) -> None:
    poses = every["tarn", "front"]
    steer = np.array(poses.sliders[2].values)
    link = next(m for m in poses.members if m.name == "drag link")
    a, b = link.points
    state = poses.models[0]
    lengths = np.linalg.norm(state.points[5, 3, :, a] - state.points[5, 3, :, b], axis=-1)
    np.testing.assert_allclose(np.abs(lengths - lengths[4]), np.abs(steer), atol=1e-6)
    left = next(f for f in state.figures if f.key == "steer").lines["left"][5, 3]
    assert np.all(np.diff(left) > 0.0)
    assert left[-1] > np.radians(20.0)


def test_independent_wheels_stand_where_the_solver_puts_them_and_mirror_each_other(
    dunnock: Job, every: dict[tuple[str, str], LinkagePoses]
) -> None:
    poses = every["dunnock", "front"]
    wheel = model.axle(dunnock, "front", stock=True)
    assert isinstance(wheel, Wheel)
    state = poses.models[0]
    i, j, k = 7, 5, 6
    travel, roll, rack = (poses.sliders[n].values[m] for n, m in enumerate((i, j, k)))
    rise = float(wheel.centre[1]) * np.sin(roll)
    left = wheel.pose(state.ride + travel + rise, rack).place("upright", wheel.centre)
    right = wheel.pose(state.ride + travel - rise, -rack).place("upright", wheel.centre) * np.array([1.0, -1.0, 1.0])
    np.testing.assert_allclose(state.points[i, j, k, index(poses, "wheel centre, left")], left, atol=1e-9)
    np.testing.assert_allclose(state.points[i, j, k, index(poses, "wheel centre, right")], right, atol=1e-9)
    half = len(poses.spots) // 2
    image = state.points[:, ::-1, ::-1, half:] * np.array([1.0, -1.0, 1.0])
    np.testing.assert_allclose(state.points[:, :, :, :half], image, atol=1e-9)


def test_figures_are_those_of_the_linkage(dunnock: Job, job: Job, every: dict[tuple[str, str], LinkagePoses]) -> None:
    poses = every["tarn", "rear"]
    axle = model.axle(job, "rear", stock=True)
    assert isinstance(axle, Axle)
    travel, roll = (np.array(s.values) for s in poses.sliders[:2])
    s = sweep(axle, poses.models[0].ride + travel, roll)
    figures = {f.key: f.lines for f in poses.models[0].figures}
    np.testing.assert_allclose(figures["roll_centre"][""][:, :, 0], s.roll_centre_height, atol=1e-9)
    np.testing.assert_allclose(figures["sideways"][""][:, :, 0], s.lateral_shift, atol=1e-12)
    poses = every["dunnock", "front"]
    wheel = model.axle(dunnock, "front", stock=True)
    assert isinstance(wheel, Wheel)
    at = sweep_wheel(wheel, poses.models[0].ride + np.array(poses.sliders[0].values))
    figures = {f.key: f.lines for f in poses.models[0].figures}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        np.testing.assert_allclose(figures["camber"][side][:, 3, 4], at.camber[:, 0], atol=1e-9)
        np.testing.assert_allclose(figures["caster"][side][:, 3, 4], at.caster[:, 0], atol=1e-9)
        np.testing.assert_allclose(figures["steer"][side][:, 3, 4], sign * at.road_steer[:, 0], atol=1e-9)


def test_a_wheels_lowest_point_lies_a_radius_under_its_axis(every: dict[tuple[str, str], LinkagePoses]) -> None:
    for poses in every.values():
        for state, (centre, outward, contact) in itertools.product(poses.models, poses.wheels):
            spoke = state.points[..., contact, :] - state.points[..., centre, :]
            axis = state.points[..., outward, :] - state.points[..., centre, :]
            reached = np.isfinite(spoke[..., 0])
            np.testing.assert_allclose(np.linalg.norm(spoke, axis=-1)[reached], poses.radius, atol=1e-12)
            np.testing.assert_allclose(np.sum(spoke * axis, axis=-1)[reached], 0.0, atol=1e-12)
            assert np.all(spoke[..., 2][reached] < -0.9 * poses.radius)


def test_between_nodes_the_page_is_less_than_a_millimetre_off(job: Job) -> None:
    """The page joins nodes by straight lines; halfway between all of them it is farthest off, in every direction."""
    poses = linkage_poses(job, "front")
    state = poses.models[0]
    axle = model.axle(job, "front", stock=True)
    assert isinstance(axle, Axle)
    travel, roll = (np.array(s.values) for s in poses.sliders[:2])
    half_travel, half_roll = 0.5 * (travel[1:] + travel[:-1]), 0.5 * (roll[1:] + roll[:-1])
    corners = [state.points[i : i + 10, j : j + 6, 4] for i, j in itertools.product((0, 1), (0, 1))]
    joined = np.mean(corners, axis=0)
    solved = axle.solve(state.ride + half_travel, half_roll)
    for name, body in (("wheel centre, left", "knuckle_left"), ("tie rod on knuckle, right", "knuckle_right")):
        i = index(poses, name)
        exact = solved.point(body, np.array(poses.spots[i].at)).reshape(10, 6, 3)
        assert np.max(np.linalg.norm(joined[:, :, i] - exact, axis=-1)) < NEAR
    # over steer the knuckle turns most: a node against the middle of its neighbours bounds the half step by a quarter
    i = index(poses, "tie rod on knuckle, left")
    over = state.points[5, 3, :, i]
    bend = np.linalg.norm(over[1:-1] - 0.5 * (over[2:] + over[:-2]), axis=-1)
    assert 0.25 * float(np.max(bend)) < NEAR


def test_what_a_wheel_does_not_reach_is_not_guessed(every: dict[tuple[str, str], LinkagePoses]) -> None:
    kit = every["dunnock", "front"].models[1]
    missing = ~np.isfinite(kit.points[..., 0])
    assert missing.any(), "the kit's full droop in roll lies past the linkage's end"
    assert np.isfinite(kit.points[5, 3, 4]).all()


def test_stock_alone_where_the_build_is_stock(job: Job) -> None:
    assert [m.label for m in linkage_poses(job, "rear", fitout=KERB, build=STOCK).models] == [STOCK]


def test_an_axle_that_is_not_there_is_refused(job: Job) -> None:
    with pytest.raises(InputError, match="no axle 'middle'"):
        linkage_poses(job, "middle")
