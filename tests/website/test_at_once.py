"""Which files of the records are watched under `serve`: those that a check reads, and no editor's own."""

from __future__ import annotations

from pathlib import Path

from leaklore.records.source import yaml_names
from leaklore.website.at_once import marks


def test_an_editor_s_files_are_not_records(tmp_path: Path) -> None:
    """A lock is a link that leads nowhere, and lies there while a text is being edited."""
    folder = tmp_path / "records" / "2025"
    folder.mkdir(parents=True)
    record = folder / "KW-2025-001.yaml"
    record.write_text("id: KW-2025-001\n")
    before = marks(tmp_path)
    assert before.keys() == {str(record)} == set(yaml_names(tmp_path / "records"))

    (folder / ".#KW-2025-001.yaml").symlink_to("someone@somewhere.4711")
    (folder / ".KW-2025-001.yaml").write_text("half")
    (folder / "gone.yaml").symlink_to(folder / "nowhere.yaml")
    assert marks(tmp_path) == before

    record.write_text("id: KW-2025-001\ntitle: Another\n")
    assert marks(tmp_path) != before
    assert marks(tmp_path).keys() == before.keys()


def test_a_library_without_records(tmp_path: Path) -> None:
    assert marks(tmp_path) == {}
