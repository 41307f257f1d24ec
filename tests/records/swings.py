"""Swings for tests: one measured, one missed, one that could not be measured."""

from dataclasses import replace

from balltrack.records.swing import Swing

MISS = Swing("01-tee/001#1", "clips/01-tee/001.mp4", "01-tee", "no_contact", "0.1.0", "abc123")
LOST = replace(MISS, swing="01-tee/001#3", outcome="not_measured", reason="the ball was seen in 2 frames only")
HIT = replace(
    MISS,
    swing="01-tee/001#2",
    outcome="measured",
    exit_speed_mps=30.0,
    exit_speed_sd_mps=0.2,
    launch_deg=20.0,
    launch_sd_deg=0.3,
    spray_deg=-12.0,
    spray_sd_deg=0.4,
    contact_m=(0.1, 0.5, 0.8),
    contact_depth_m=0.07,
    carry_m=60.0,
    carry_sd_m=2.0,
    landing_m=(-12.5, 58.7),
    landing_cov_m2=((1.0, 0.1), (0.1, 2.0)),
    fence_clear_probability=0.25,
    field_side="middle",
    flight="line_drive",
    quality="good",
)
