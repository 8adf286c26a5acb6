"""Whatever opens a file of somebody does so in a process with limits."""

from __future__ import annotations

import io
import multiprocessing
import os
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from curator import limited
from curator.catalog.store import add_photos
from curator.errors import PhotoError
from curator.parallel import spread
from curator.seeing import batch, photo


def doubled(number: int, seconds: float = 0.0) -> tuple[int, int]:
    time.sleep(seconds)
    return 2 * number, os.getpid()


def hungry(number: int) -> tuple[int, int]:
    return int(np.ones(600_000_000, np.float64).sum()), number  # 4.8 GB


def ended(number: int) -> tuple[int, int]:
    os._exit(number)


def refused(number: int) -> tuple[int, int]:
    raise PhotoError("A.", "B.", str(number))


def threads() -> int:
    import cv2

    return int(cv2.getNumThreads())


def aside(number: int, seconds: float = 0.0) -> tuple[int, int]:
    return -1, number


def of_its_own(count: int) -> list[tuple[int, int]]:
    return list(spread(doubled, [(n,) for n in range(count)], count, aside=aside))


@pytest.fixture(autouse=True)
def on(monkeypatch: pytest.MonkeyPatch) -> None:
    """A harness that another test loaded may have put the limits off."""
    monkeypatch.setattr(limited, "ON", True)


def test_each_job_is_answered_once_in_another_process() -> None:
    told = list(spread(doubled, [(n,) for n in range(20)], 20, aside=aside))
    assert sorted(number for number, _ in told) == [2 * n for n in range(20)]
    assert os.getpid() not in {process for _, process in told}
    again = list(spread(doubled, [(1,)], 1, aside=aside))
    assert again[0][1] in {process for _, process in told}  # the processes are kept: starting one takes its time


def test_a_path_is_meant_from_where_it_is_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that is kept from the last batch was started in another folder."""
    process = limited.Process()
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        monkeypatch.chdir(tmp_path / name)
        assert process.ask(os.getcwd) == os.getcwd()
    process.end()


def test_such_a_process_has_as_many_threads_as_it_was_given_once_it_needs_any() -> None:
    process = limited.Process(threads=3)
    assert process.ask(threads) == 3
    process.end()


def test_answers_are_worked_out_ahead_while_the_first_one_is_used() -> None:
    begun: list[int] = []

    def jobs() -> Iterator[tuple[int]]:
        for number in range(12):
            begun.append(number)
            yield (number,)

    answers = spread(doubled, jobs(), 12, aside=aside, ahead=12)
    next(answers)
    until = time.monotonic() + 20
    while len(begun) < 12 and time.monotonic() < until:
        time.sleep(0.01)
    assert len(begun) == 12
    answers.close()


def test_a_job_with_jobs_of_its_own_does_them_itself() -> None:
    """A process with limits may start no other, however many jobs there are."""
    process = limited.Process()
    told = process.ask(of_its_own, 5)
    assert [number for number, _ in told] == [0, 2, 4, 6, 8]
    assert len({where for _, where in told}) == 1
    process.end()


def test_a_process_that_could_not_be_started_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    class Refused:
        def __init__(self, **_: object) -> None:
            pass

        def start(self) -> None:
            raise OSError(12, "Cannot allocate memory")

    process = limited.Process()
    with monkeypatch.context() as full:
        full.setattr(multiprocessing.get_context("spawn"), "Process", Refused)
        with pytest.raises(OSError, match="allocate"):
            process.ask(doubled, 1)
    assert process.ask(doubled, 4)[0] == 8
    process.end()


def test_one_that_ends_its_process_is_set_aside_and_the_others_go_on() -> None:
    assert list(spread(ended, [(1,), (2,)], 2, aside=aside)) in ([(-1, 1), (-1, 2)], [(-1, 2), (-1, 1)])
    assert next(spread(doubled, [(4,)], 1, aside=aside))[0] == 8


def test_what_takes_too_much_memory_is_an_error_of_ours() -> None:
    with pytest.raises(PhotoError, match="more memory"):
        list(spread(hungry, [(1,)], 1, aside=aside))


def test_errors_come_through_and_closing_early_ends_what_is_in_work() -> None:
    with pytest.raises(PhotoError, match="7"):
        list(spread(refused, [(7,)], 1, aside=aside))
    before = {one.pid for one in multiprocessing.active_children()} - {one._process.pid for one in limited._idle}
    slow = spread(doubled, [(1,), (2, 300.0), (3, 300.0)], 3, aside=aside)
    next(slow)
    taken = [one for one in multiprocessing.active_children() if one.pid not in before]
    assert taken
    slow.close()
    assert not [one for one in taken if one.is_alive()]  # ended in the middle of their 300 seconds


def test_time_is_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limited, "SECONDS", 0.5)
    assert list(spread(doubled, [(1, 30.0)], 1, aside=aside)) == [(-1, 1)]


def test_the_command_line_opens_photos_there(tmp_path: Path) -> None:
    Image.new("RGB", (60, 40), (200, 90, 20)).save(tmp_path / "a.jpg")
    assert not limited.works_here(batch.tag_noted)
    assert not limited.works_here(add_photos.see)
    answers = list(batch.tag_all([tmp_path / "a.jpg"], None, None))
    assert [answer["photo"] for answer in answers] == ["a.jpg"]


def test_sixteen_bits_take_little_memory_and_look_the_same() -> None:
    rng = np.random.default_rng(1)
    deep = rng.integers(0, 65536, (700, 30)).astype(np.uint16)
    expected = (deep / 65535 * 255).round().astype(np.uint8)
    assert (photo._eight_bits(deep) == expected).all()
    assert photo._eight_bits(np.array([[0.0, np.nan], [0.5, 1.0]]))[1].tolist() == [128, 255]


def test_a_jpeg_of_very_many_scans_is_refused_before_it_is_decoded() -> None:
    buffer = io.BytesIO()
    Image.new("RGB", (64, 64), (200, 90, 20)).save(buffer, "JPEG", progressive=True)
    data = buffer.getvalue()
    assert photo.large_of(data, "x").shape == (64, 64, 3)
    at = data.index(b"\xff\xda")
    with pytest.raises(PhotoError, match="far more steps"):
        photo.large_of(data[:at] + data[at:-2] * 80 + data[-2:], "x")
