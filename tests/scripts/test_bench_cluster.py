"""The plan of a night is arithmetic that can be done by hand."""

from bench_cluster import Constants, Night, plan

NIGHT = Night(100_000, hours=8, clips_a_lesson=60, clip_mb=7.5, core_hour=0.04, gb_month=0.023, kept_days=30)
FOUND = Constants(core_s_a_clip=7.2, giver_s_a_lesson=6.0, giver_s_a_clip=0.01, setup_mb=0.9, results_mb_a_lesson=3.0)


def test_a_night_takes_what_a_calculation_by_hand_says() -> None:
    # By hand: 100,000 clips / 60 = 1,667 lessons; 720,000 core seconds in 28,800 s of which 80 % serve: 31.25 cores,
    # 250 core hours; 1,667 x 6 s + 1,000 s = 11,002 s of 28,800 s; 100,000 x 28,800 / 11,002 = 261,771 clips;
    # 750 GB of films, 6,000 Gbit in 28,800 s; 750 GB x 30 days; 1,667 x 32 x 0.9 MB; 750 GB x 0.023.
    found = dict(plan(NIGHT, FOUND))
    assert found["lessons"].startswith("1,667 of 60")
    assert found["worker cores"].startswith("32,")
    assert found["who gives out the work"].startswith("38% of one core")
    assert found["reading films"] == "750 GB, 0.21 Gbit/s over the night"
    assert found["set-ups to workers"].startswith("48 GB")
    assert found["films kept"] == "22.5 TB for 30 days"
    assert found["results kept"] == "5.0 GB a night"
    assert found["computing"] == "250 core hours, 10 a night"
    assert found["storing films"].startswith("17 a night")
    assert "261,771 clips" in found["first bottleneck"]
