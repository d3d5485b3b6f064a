"""The worksheet: its pages, every cup's masses on it, other scripts, too much for a page."""

import json
import re
import shutil
import subprocess
from dataclasses import replace

import pytest
import typst

from evenwall.errors import JobError
from evenwall.machine.balance import balance_machine
from evenwall.machine.parts import Machine
from evenwall.reports import pdf as pdf_file
from evenwall.reports.pdf import write_pdf
from evenwall.reports.turning_words import turning_told
from evenwall.reports.worksheet import worksheet, write_worksheet
from evenwall.reports.worksheet_plan import Scale, clock_time, plan_page
from evenwall.reports.worksheet_wall import grouped


def pages(content):
    """Page objects of a PDF (ISO 32000-1, 7.7.3.3), the tree's nodes not counted."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", content))


@pytest.fixture
def printed(monkeypatch):
    """What stands in a worksheet's tables, as typst laid them out."""

    def texts(*wanted):
        def ask(path, **settings):
            return typst.query(path, "table", **settings).encode()

        with monkeypatch.context() as patched:
            patched.setattr(pdf_file.typst, "compile", ask)
            found = json.loads(worksheet(*wanted))
        return " ".join(_texts(found))

    return texts


def _texts(node):
    if isinstance(node, list):
        for one in node:
            yield from _texts(one)
    elif isinstance(node, dict):
        if node.get("func") == "text":
            yield node["text"]
        for one in node.values():
            yield from _texts(one)


@pytest.fixture(scope="module")
def balanced():
    return balance_machine(
        Machine(
            mold_mass=5.0,
            mold_outer=(0.2, 0.18, 0.1),
            frame_opening=(0.45, 0.4),
            mold_centre=(0.02, -0.015, 0.01),
        )
    )


def test_two_pages_and_a_third_for_the_machine(small, balanced, tmp_path):
    job, plan = small
    path = write_worksheet(tmp_path, "metric", job, plan)
    assert path == tmp_path / "worksheet.pdf"
    assert path.read_bytes().startswith(b"%PDF-")
    assert pages(path.read_bytes()) == 2
    write_worksheet(tmp_path, "us", job, plan, balanced)
    assert pages(path.read_bytes()) == 3
    assert [found.name for found in tmp_path.iterdir()] == ["worksheet.pdf"]


def test_every_cup_is_on_it_as_the_scale_shows_it(small, printed):
    job, plan = small
    metric, us = printed("metric", job, plan), printed("us", job, plan)
    assert len(plan.weigh_out.shots) >= 2
    for shot in plan.weigh_out.shots:
        for mass in (shot.a, shot.b_weighed, shot.mass):
            assert f"{1e3 * mass:.1f} g" in metric  # the scale's step is 0.1 g
            # NIST SP 811, appendix B.8: 1 oz (avoirdupois) = 28.34952 g
            assert f"{1e3 * mass / 28.34952:.3f} oz" in us


def test_times_and_weights_of_the_plan_are_on_it(small, balanced, printed):
    job, plan = small
    said = printed("metric", job, plan, balanced)
    for shot in plan.shots:
        for time in (shot.clock.budget.pour_within, shot.clock.minutes.gel_film):
            assert f"{round(time) // 60}:{round(time) % 60:02d}" in said
    assert balanced.counterweights
    for piece in balanced.counterweights:
        assert piece.place in said
    assert f"{balanced.frame_axis_torque.after:.2f} N m" in said


def test_the_same_plan_gives_the_same_paper(small):
    job, plan = small
    assert worksheet("metric", job, plan) == worksheet("metric", job, plan)


@pytest.mark.parametrize(
    "name", ["Αμμωνίτης", "Аммонит", "菊石", "أمونيت", '#x *y* $z [1] \\ `q` <a> "b" // c', "a" * 120]
)
def test_any_name_is_set_as_it_is(small, name):
    job, plan = small
    assert pages(worksheet("metric", replace(job, name=name), plan)) == 2


def test_the_name_can_be_read_back(small, tmp_path):
    job, plan = small
    path = write_worksheet(tmp_path, "metric", replace(job, name="#let Аммонит = *1*"), plan)
    reader = shutil.which("pdftotext")
    if reader is None:  # the letters are then only known to be laid out on two pages
        assert pages(path.read_bytes()) == 2
        return
    said = subprocess.run([reader, "-layout", path, "-"], capture_output=True, check=True).stdout.decode()
    assert "#let Аммонит = *1*" in said


def test_twelve_coats_still_fit_and_more_run_on(small):
    job, plan = small

    def many(times):
        cups = plan.weigh_out.shots * times
        sure = replace(plan.sure, coats=plan.sure.coats * times)
        weighed = replace(plan.weigh_out, shots=cups)
        return replace(plan, shots=plan.shots * times, weigh_out=weighed, sure=sure)

    assert pages(worksheet("us", job, many(6))) == 2
    assert pages(worksheet("us", job, many(20))) > 2


def test_steady_turning_is_said_in_turns_a_minute(small, printed):
    job, plan = small
    # 0.6 rad/s is 0.6 * 60 / (2 pi) = 5.73 turns a minute
    turning = replace(job.turning, pattern="constant", frame_rate=0.6, cradle_rate=0.3, stop_after=400.0)
    said = printed("metric", replace(job, turning=turning), plan)
    assert "frame 5.7 and the cradle in it 2.9 turns a minute" in said
    assert "6:40" in said


def test_hands_are_told_the_rates_that_their_turning_was_slowed_to(small):
    job, plan = small
    # 0.6 rad/s is 0.6 * 60 / (2 pi) = 5.73 turns a minute
    slowed = tuple(replace(stage, frame_rate=0.6, cradle_rate=0.3) for stage in plan.program.stages)
    told = turning_told(job, replace(plan, program=replace(plan.program, stages=slowed)))
    assert any("5.7 and the cradle in it 2.9 turns a minute" in one.words for one in told)


def test_brush_and_cleaning_shot_are_told_before_the_coats(small):
    job, plan = small
    first, *rest = plan.weigh_out.shots
    extra = (replace(first, name="cleaning shot", kind="cleaning", pigment=0.0), replace(first, kind="brush"))
    page = plan_page(job, replace(plan, weigh_out=replace(plan.weigh_out, shots=(*extra, *rest))), us=False)
    assert page["before"].startswith("The cleaning shot comes first")
    assert "Brush the narrow places before coat 1" in page["before"]
    assert [cup["tinted"] for cup in page["cups"]] == [False, *[True] * (len(rest) + 1)]
    assert plan_page(job, plan, us=False)["before"] == ""


def test_a_time_that_never_comes_is_said():
    assert clock_time(float("inf")) == "not in a day"
    assert clock_time(61.0) == "1:01"


@pytest.mark.parametrize(
    ("step", "said"), [(1e-4, "20.0 g"), (1e-3, "20 g"), (1e-5, "20.00 g"), (5e-4, "20.0 g")]
)
def test_masses_are_said_to_the_scales_step(step, said):
    assert Scale(step=step, us=False).mass(0.02) == said


def test_assumed_values_of_one_source_stand_together():
    assert grouped(["a: typical (x: y)", "b: assumed (z)", "c: typical (x: y)"]) == [
        ["typical (x: y)", "a, c"],
        ["assumed (z)", "b"],
    ]


def test_a_folder_that_is_gone_is_named(tmp_path):
    with pytest.raises(JobError, match="can't be written"):
        write_pdf(tmp_path / "gone" / "worksheet.pdf", b"%PDF-")
