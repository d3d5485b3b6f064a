"""The worksheet to tape on the wall: weigh-out and times, the wall that comes out, and the machine's page."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from evenwall.job import Job, Plan
from evenwall.machine.balance import BalanceReport
from evenwall.reports.cure_picture import cure_picture
from evenwall.reports.pdf import pdf, write_pdf
from evenwall.reports.worksheet_machine import machine_page
from evenwall.reports.worksheet_plan import plan_page
from evenwall.reports.worksheet_wall import wall_page

NAME: Final = "worksheet.pdf"
TEMPLATE: Final = "worksheet.typ"


def worksheet(units: str, job: Job, planned: Plan, machine: BalanceReport | None = None) -> bytes:
    """The worksheet as PDF: two pages, and a third one where the machine was balanced; `units` metric or us."""
    us = units == "us"
    wall, picture = wall_page(job, planned, us=us)
    data: dict[str, Any] = {"plan": plan_page(job, planned, us=us), "wall": wall, "machine": None}
    pictures = {"wall.png": picture, "cure.png": cure_picture(planned.curves, us=us, height=2.9)}
    if machine is not None:
        data["machine"], pictures["torque.png"] = machine_page(machine, us=us)
    return pdf(TEMPLATE, data, pictures)


def write_worksheet(
    folder: Path, units: str, job: Job, planned: Plan, machine: BalanceReport | None = None
) -> Path:
    """Write folder/worksheet.pdf, in one go, and return its path; JobError where it can't be written."""
    return write_pdf(folder / NAME, worksheet(units, job, planned, machine))
