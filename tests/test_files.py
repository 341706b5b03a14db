"""A file for people is there whole or not at all."""

import os
from pathlib import Path

import pytest

from callout.files import whole_file


def test_it_is_there_with_its_line_ends_as_given(tmp_path: Path) -> None:
    with whole_file(tmp_path / "a.csv") as file:
        file.write("one\r\ntwo ½\n")
        assert not (tmp_path / "a.csv").exists()
    assert (tmp_path / "a.csv").read_bytes() == "one\r\ntwo ½\n".encode()
    assert os.listdir(tmp_path) == ["a.csv"]


def test_what_fails_half_way_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("old")
    with pytest.raises(TypeError), whole_file(tmp_path / "a") as file:
        file.writelines(["half of the n", 3])  # type: ignore[list-item]
    assert (tmp_path / "a").read_text() == "old"
    assert os.listdir(tmp_path) == ["a"]


def test_a_link_goes_on_pointing_where_it_pointed(tmp_path: Path) -> None:
    (tmp_path / "there").write_text("old")
    (tmp_path / "here").symlink_to("there")
    with whole_file(tmp_path / "here") as file:
        file.write("new")
    assert (tmp_path / "here").is_symlink()
    assert (tmp_path / "there").read_text() == "new"


def test_a_device_is_written_and_not_replaced() -> None:
    with whole_file(Path(os.devnull)) as file:
        file.write("gone")
    assert not Path(os.devnull).is_file()


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError), whole_file(tmp_path / "no" / "a"):
        pass
