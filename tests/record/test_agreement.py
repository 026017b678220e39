"""Names that record and mechanics hold apart, since neither imports the other, are the same."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from tussock.mechanics.linkage import build_axle
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.build import BushRates
from tussock.mechanics.linkage.layouts import LAYOUTS as MECHANICS
from tussock.mechanics.linkage.wheel_layouts import WHEEL_LAYOUTS, WHEEL_STEERING
from tussock.mechanics.roads import CLASS_MEAN, FEATURES, Feature, parameters
from tussock.record import Programme, loads, road
from tussock.record.layouts import LAYOUTS, STEERINGS, ends
from tussock.record.parts import BushRates as Bush
from tussock.record.parts import LinkStiffness


def test_layouts_are_the_same() -> None:
    assert set(LAYOUTS) == set(MECHANICS) | set(WHEEL_LAYOUTS)
    for name, layout in LAYOUTS.items():
        assert layout.independent == (name in WHEEL_LAYOUTS)
        theirs = WHEEL_LAYOUTS[name] if layout.independent else MECHANICS[name]
        assert layout.links == getattr(theirs, "links", False)
        assert {j for j in layout.joints if j in {row.name for row in theirs.joints}} == {
            row.name for row in theirs.joints if row.kind in ("bush", "slider")
        }
        assert set(layout.balls) == {row.name for row in theirs.joints if row.kind == "ball"}
        assert set(layout.bodies) == {row.name for row in theirs.bodies}
        used = {at for row in theirs.joints for at in (row.at_a, row.at_b)}
        used |= {"leaf_seat"} if "shackle" in layout.bodies else set()
        used |= {f"{row.name}_{end}" for row in theirs.bodies if row.kind == "arm" for end in ("front", "rear")}
        assert used <= set(layout.required)


def test_steerings_are_the_same() -> None:
    assert set(STEERINGS) - {"drag_link"} == set(WHEEL_STEERING)
    for name, theirs in WHEEL_STEERING.items():
        used = {at for row in theirs.joints for at in (row.at_a, row.at_b)}
        used |= {row.axis_to for row in theirs.bodies if row.kind == "hinge"}
        assert used == set(STEERINGS[name].required)
        once = {at for row in theirs.joints if not row.paired for at in (row.at_a, row.at_b)}
        assert once <= STEERINGS[name].central
        for row in theirs.joints:
            assert row.a in STEERINGS[name].ends[row.at_a]
            assert row.b in STEERINGS[name].ends[row.at_b]


def test_road_features_are_the_same() -> None:
    kinds = {get_args(m.model_fields["kind"].annotation)[0]: m for m in get_args(get_args(road.Feature)[0])}
    assert set(kinds) == set(FEATURES)
    for kind, model in kinds.items():
        fields = {name: info for name, info in model.model_fields.items() if name not in ("kind", "at")}
        theirs = parameters(kind)
        assert set(fields) == set(theirs), kind
        for name, info in fields.items():
            assert info.is_required() == theirs[name].required, (kind, name)
            if not info.is_required() and name != "seed":  # a section gives its own
                assert getattr(info.default, "si", info.default) == theirs[name].default, (kind, name)
            if theirs[name].dimension == "choice":
                assert get_args(info.annotation) == theirs[name].choices


def test_road_classes_are_the_same() -> None:
    annotation = get_args(road.Surface.model_fields["road_class"].annotation)[0]
    assert set(get_args(annotation)) == set(CLASS_MEAN)


def axle_of(programme: Programme, end: str, changes: dict[str, np.ndarray] | None = None) -> Axle:
    axle = programme.vehicle.axles[end]
    bushes = {
        name: BushRates(radial=b.radial.si, axial=b.axial.si, conical=b.conical.si, torsional=b.torsional.si)
        for name, b in axle.bushes.items()
        if isinstance(b, Bush)
    }
    return build_axle(
        axle.layout,
        {name: np.array(point) for name, point in axle.points().items()},
        wheel_radius=axle.hardpoints["wheel_centre"].z,
        bushes=bushes,
        link_stiffness={n: b.stiffness.si for n, b in axle.bushes.items() if isinstance(b, LinkStiffness)},
        steering=axle.steering is not None,
        central=axle.central,
        changes=changes,
    )


@pytest.mark.parametrize("end", ["front", "rear"])
def test_every_hardpoint_and_end_of_the_demo_is_known_to_the_linkage(tarn_text: str, end: str) -> None:
    programme = loads(tarn_text).programme
    axle = programme.vehicle.axles[end]
    changes = {
        f"{name}@{body}": np.array(point.si)
        for name, point in axle.hardpoints.items()
        for body in ends(axle.layout, name, axle.hardpoints)
    }
    assert len(changes) >= len(axle.hardpoints) - 1
    assert axle_of(programme, end, changes).track == pytest.approx(1.5)


def test_every_feature_of_the_demo_can_be_built(tarn_text: str) -> None:
    loop = loads(tarn_text).programme.road_loop
    features = [f for section in loop.sections for f in section.features]
    assert len(features) >= 8
    for feature in features:
        built = Feature(kind=feature.kind, at=feature.at.si, parameters=feature.parameters())
        assert built.end <= max(section.length.si for section in loop.sections)
