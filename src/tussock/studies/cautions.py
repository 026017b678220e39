"""What every hand-over says about its use: suspension work can kill."""

from __future__ import annotations

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "These figures are design aids, not certification.",
        "They come from a model and from measurements with errors of their own. Nothing in this report shows that a "
        "vehicle may be used on a road.",
    ),
    (
        "Local codes and a licensed engineer decide.",
        "Rules on lift, tyres, lighting, brakes and steering differ by place and change. Confirm every rule locally "
        "and have the finished vehicle examined by someone licensed to do so.",
    ),
    (
        "Check on the hoist at full articulation before driving.",
        "With springs out and then in, take each wheel to full droop and full bump, and cross the axle. Check brake "
        "lines and hoses, cables, tyre contact at both steering locks, propshaft joints, rods against chassis and "
        "sump, and that no spring leaves its seat.",
    ),
    (
        "First drives slow.",
        "Start on a closed, level place at walking pace. Check brakes, steering return and noises; look at hoses, "
        "bolts and stops again after the first kilometres; then raise speed and load in steps.",
    ),
    (
        "Torque and bushes at ride height.",
        "Tighten bushed bolts with the vehicle standing on its wheels, to the vehicle's own workshop figures, and "
        "check the headlamp aim and the wheel alignment afterwards.",
    ),
    (
        "A spring under load stores enough energy to kill.",
        "Use a compressor that fits the coil, never stand in its line, and relieve gas pressure before a damper is "
        "opened.",
    ),
)
