"""job.toml: what is written is read again, faults are named, nothing saved is lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenwall.errors import EvenwallError, JobError
from evenwall.files.job_file import (
    LOCK,
    NAME,
    check_job,
    job_text,
    locked,
    parse_job,
    read_job_file,
    write_job_file,
    write_whole,
)
from evenwall.files.job_schema import JobFile, Piece, Wall


def test_written_and_read_again(tmp_path):
    job = JobFile(name="Ammonit für die Bildungsabteilung 菊石", piece=Piece(mesh="a.stl", unit="mm"))
    write_job_file(tmp_path, job)
    assert read_job_file(tmp_path) == job


def test_comments_and_unchanged_lines_stay():
    before = '# for the shop\nname = "a" # ours\n[wall]\ntarget_wall_mm = 3.0 # as the last one\n'
    job = parse_job(before)
    after = job_text(
        job.model_copy(update={"wall": Wall(target_wall_mm=2.5)}),
        before=before,
    )
    assert "# for the shop" in after
    assert "# ours" in after
    assert parse_job(after).wall.target_wall_mm == 2.5


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[wall]\ntarget_wall_mm = -3", "wall.target_wall_mm = -3"),
        ("[wall]\nthickness = 3", "wall.thickness is not a key"),
        ("[wall\n", "not valid TOML"),
        ("format = 99", "get a newer evenwall"),
        ('[shop]\nair_C = "warm"', "shop.air_C = 'warm'"),
        ("[shop]\nair_C = nan", "shop.air_C"),
        ("[piece]\nunit = 'furlong'", "piece.unit"),
    ],
)
def test_a_fault_is_named_in_one_sentence(text, said):
    with pytest.raises(JobError) as caught:
        parse_job(text)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_no_job_says_how_to_make_one(tmp_path):
    with pytest.raises(JobError, match="evenwall new"):
        read_job_file(tmp_path)


def test_not_text(tmp_path):
    (tmp_path / NAME).write_bytes(b"\xff\xfe\x00")
    with pytest.raises(JobError, match="UTF-8"):
        read_job_file(tmp_path)


def test_a_failed_write_keeps_the_old_file(tmp_path, monkeypatch):
    write_job_file(tmp_path, JobFile(name="old"))

    def full(_):
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_job_file(tmp_path, JobFile(name="new"))
    monkeypatch.undo()
    assert read_job_file(tmp_path).name == "old"
    assert [p.name for p in tmp_path.iterdir()] == [NAME]


def test_two_writers_are_kept_apart(tmp_path):
    with locked(tmp_path), pytest.raises(JobError, match="in use"), locked(tmp_path):
        pass
    with locked(tmp_path):
        assert (tmp_path / LOCK).exists()


@given(st.binary(max_size=300))
def test_no_bytes_break_the_reader(tmp_path_factory, content):
    folder = tmp_path_factory.mktemp("job")
    write_whole(folder / NAME, content)
    try:
        assert isinstance(read_job_file(folder), JobFile)
    except EvenwallError as error:
        assert "\n" not in str(error)


@given(
    st.recursive(
        st.none() | st.floats() | st.text() | st.integers(),
        lambda x: st.lists(x) | st.dictionaries(st.text(), x),
    )
)
def test_no_tables_break_the_check(value):
    for tables in ({"wall": value}, {"piece": {"readings": value}}, {"shop": {"cups_mL": value}}):
        try:
            check_job(tables)
        except EvenwallError as error:
            assert str(error)


def test_a_job_of_format_1_says_the_same_in_format_2():
    old = (
        'format = 1\n[piece]\nmesh = "a.stl"\nup = "y"\nshrink_percent = 0.5\n[piece.sides]\nface = [0, 0, 1]\n'
        "[turning]\ncrossing_mm = [1, 2, 3]\n[mold]\nouter_mm = [10, 20, 30]\n"
    )
    new = parse_job(old)
    assert (new.piece.scan_of, new.piece.mold_shrink_percent) == ("master", 0.5)
    # a quarter turn about x takes y to z and z to -y
    assert new.piece.sides["face"] == [0, -1, 0]
    assert new.turning.crossing_mm == [1, -3, 2]
    assert new.mold.outer_mm == [10, 30, 20]
    larger = parse_job("format = 1\n[piece]\nshrink_percent = -1.0\n").piece
    assert larger.scan_of == "casting"
    assert 1.0 / (1.0 - larger.resin_shrink_percent / 100.0) == pytest.approx(1.01)
