"""docs/job-file.md says what job.toml really takes."""

import re
from pathlib import Path

from evenwall.files.job_docs import job_file_page
from evenwall.files.job_file import parse_job

PAGE = Path(__file__).parents[2] / "docs" / "job-file.md"


def test_the_page_is_that_of_the_keys():
    again = "python -c 'from evenwall.files.job_docs import *; print(job_file_page(), end=\"\")' > docs/job-file.md"
    assert PAGE.read_text(encoding="utf-8") == job_file_page(), f"make it again: {again}"


def test_every_key_has_a_meaning_and_no_key_an_unknown_unit():
    rows = re.findall(
        r"^\| `(\w+)` \| (.*?) \| (.*?) \| (.*?) \| (.*) \|$", job_file_page(), flags=re.MULTILINE
    )
    assert len(rows) > 60
    for name, unit, value, default, meaning in rows:
        assert meaning.strip(), name
        assert value.strip(), name
        assert default.strip(), name
        assert not re.search(r"_(mm|g|s|min|rpm|C|mL|cm2|percent)$", name) or unit, name


def test_its_example_is_a_job():
    example = re.search(r"```toml\n(.*?)```", job_file_page(), flags=re.DOTALL)
    job = parse_job(example.group(1))
    assert job.machine.weights[0].count == 4
    assert job.mold.outer_mm == [184, 166, 84]
