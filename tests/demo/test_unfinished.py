"""A demonstration whose making was ended is told by all who come to it."""

from pathlib import Path

import pytest

from ratoon.base.errors import BadInput
from ratoon.jobs.keep import demo
from ratoon.jobs.keep.doctor import examine


def _told(folder: Path) -> list[str]:
    return [one.line for one in examine(folder) if one.what == "demonstration" and not one.sound]


def test_a_demonstration_that_was_ended_while_it_was_made_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Ended(BaseException):
        pass

    def end(folder: Path, **_: object) -> None:
        raise Ended

    folder = tmp_path / "kestrel-point"
    monkeypatch.setattr("ratoon.demo.write.write_demo", end)
    with pytest.raises(Ended):
        demo.make_demo(folder)
    assert len(_told(folder)) == 1
    with pytest.raises(BadInput, match="was not made to its end"):
        demo.clear(folder, again=False)
    demo.clear(folder, again=True)
    assert not any(folder.iterdir())


def test_one_that_is_whole_is_offered(tmp_path: Path) -> None:
    (tmp_path / demo.MARK).parent.mkdir()
    (tmp_path / demo.MARK).touch()
    assert _told(tmp_path) == []
    with pytest.raises(BadInput) as refused:
        demo.clear(tmp_path, again=False)
    assert f"ratoon serve --mill {tmp_path}" in refused.value.line()
