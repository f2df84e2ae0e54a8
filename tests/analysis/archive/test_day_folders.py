"""Day folders are found in order, each once."""

import pytest

from doe.analysis.archive import day_folders as archive
from doe.analysis.archive.day_folders import day_folders, is_archive
from doe.analysis.archive.day_summary import summaries_of
from doe.errors import InputError


@pytest.fixture
def shelf(tmp_path):
    """Folders as people keep them."""
    for name in ("2025/b", "2025/a", "2024/x", "2024/x/inside", ".hidden/y", "2025/empty"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("2025/b", "2025/a", "2024/x", "2024/x/inside", ".hidden/y"):
        (tmp_path / name / "day.toml").touch()
    (tmp_path / "2025" / "link").symlink_to(tmp_path / "2024", target_is_directory=True)
    return tmp_path


def names(found, shelf):
    return [str(folder.relative_to(shelf.resolve())).replace("\\", "/") for folder in found]


def test_sorted_and_nothing_inside_a_day(shelf):
    assert names(day_folders([shelf]), shelf) == ["2024/x", "2025/a", "2025/b"]


def test_a_place_below_another_or_named_twice_is_gone_through_once(shelf):
    found = day_folders([shelf / "2025" / "a", shelf / "2025", shelf / "2025"])
    assert names(found, shelf) == ["2025/a", "2025/b"]


def test_day_folders_named_one_by_one_keep_their_order(shelf):
    assert names(day_folders([shelf / "2025" / "b", shelf / "2025" / "a"]), shelf) == ["2025/b", "2025/a"]


def test_what_is_an_archive(shelf):
    assert is_archive(shelf)
    assert not is_archive(shelf / "2024" / "x")
    assert not is_archive(shelf / "nowhere")


def test_nothing_there_is_said(shelf):
    with pytest.raises(InputError, match="no such folder"):
        list(day_folders([shelf / "nowhere"]))
    with pytest.raises(InputError, match=r"day\.toml here or in a folder below"):
        list(day_folders([shelf / "2025" / "empty"]))


def test_a_folder_that_can_t_be_looked_into_is_passed_on(shelf, monkeypatch):
    real = archive.os.scandir

    def locked(folder):
        if folder.name == "2024":
            raise PermissionError(13, "Permission denied", str(folder))
        return real(folder)

    monkeypatch.setattr(archive.os, "scandir", locked)
    assert names(day_folders([shelf]), shelf) == ["2024", "2025/a", "2025/b"]
    ((said,),) = summaries_of([shelf / "2024"])
    assert said.broken
