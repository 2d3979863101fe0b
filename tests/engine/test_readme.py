"""The lines in the engine's README do what they say."""

import re
from pathlib import Path

import pytest

import engine
import rules
from simulator.shipped import DEMO_ROOM
from tests.house.tree import TOP

README = (TOP / "engine" / "README.md").read_text("utf-8")


def test_the_lines_of_the_readme_run_as_they_stand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "hayloft.yaml").write_text(DEMO_ROOM.read_text("utf-8"), "utf-8")
    monkeypatch.chdir(tmp_path)
    (lines,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    names: dict[str, object] = {}
    exec(compile(lines, "README.md", "exec"), names)  # noqa: S102 - the lines are our own
    *said, last = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in said] == ["projector", "source", "playback", "ratio"]
    assert "'picture'" in "".join(said)
    assert '"aspect":2.39' in last
    assert isinstance(names["reply"], engine.Reply)
    assert names["reply"].refusal is None


@pytest.mark.parametrize("face", [engine, rules], ids=["engine", "rules"])
def test_every_name_of_the_face_is_there_and_no_other(face: object) -> None:
    names: list[str] = getattr(face, "__all__")  # noqa: B009 - of either package
    assert names == sorted(names)
    assert all(getattr(face, name) is not None for name in names)
    with pytest.raises(AttributeError, match="nothing_of_that_name"):
        getattr(face, "nothing_of_that_name")  # noqa: B009 - the type check would forbid it


@pytest.mark.parametrize("floor", ["engine", "rules", "simulator", "adapters"])
def test_every_floor_says_that_it_has_types(floor: str) -> None:
    assert (TOP / floor / "py.typed").is_file()
